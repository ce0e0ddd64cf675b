// The planning desk: holds the route, its past and its future, and passes what the person does on to the server and its answers on to
// the chart, the section and the panel.

import { DeskChart } from "./desk_chart.js";
import { DeskLayers } from "./desk_layers.js";
import { Link } from "./desk_link.js";
import { DeskSection } from "./desk_section.js";
import { atAltitude, insertAfter, moveStop, removeStop, replaceStop, reversed, same } from "./route_edit.js";

const MOST_STEPS = 100;
const CARD_MS = 140;

class Desk {
  constructor(root, told, data) {
    this.root = root;
    this.told = told;
    this.part = (name) => root.querySelector(`[data-${name}]`);
    this.draft = told.draft;
    this.kept = told.draft;
    this.answer = null;
    this.undo = [];
    this.redo = [];
    this.after = null;
    this.chart = new DeskChart(document.getElementById("desk-map"), data);
    this.section = new DeskSection(this.part("section"));
    this.layers = new DeskLayers(root, this.chart, told.home, () => this.altitude);
    this.link = new Link({ home: told.home, answered: (...all) => this.answered(...all), refused: (...all) => this.refused(...all), connected: (yes) => this.connected(yes) });
    this.link.version = told.draft?.version;
    this.listen();
    this.fillPlaces();
    this.begin();
  }

  get altitude() {
    return Number(document.getElementById("desk-altitude").value) || this.told.altitude_ft;
  }

  get store() {
    return `beaconry-desk ${this.told.home} ${this.draft?.number ?? "new"}`;
  }

  // What was not sent when the page was left comes back; so do the steps that can be undone.
  begin() {
    document.getElementById("desk-altitude").value = this.told.altitude_ft;
    let past = null;
    try {
      past = JSON.parse(sessionStorage.getItem(this.store) ?? "null");
    } catch { /* what cannot be read is not there */ }
    if (past) [this.undo, this.redo] = [past.undo ?? [], past.redo ?? []];
    if (past?.unsent && past.draft && past.draft.number === this.draft?.number && !same(past.draft, this.draft)) {
      this.draft = past.draft;
      this.say("Your last change had not been kept yet. It is being sent now.");
      this.link.send(this.draft, { keep: true });
    } else if (this.draft) this.link.send(this.draft, { keep: false });
    else this.say("Click an airfield to depart from.");
    this.showSteps();
  }

  remember() {
    const past = { draft: this.draft, undo: this.undo.slice(-MOST_STEPS), redo: this.redo.slice(-MOST_STEPS), unsent: !same(this.draft, this.kept) };
    try {
      sessionStorage.setItem(this.store, JSON.stringify(past));
    } catch { /* a full store keeps nothing; the server does */ }
  }

  say(words) {
    this.part("verdict").textContent = words;
  }

  // A change by the person: it is kept at once, and can be undone.
  change(draft, { back = null } = {}) {
    if (!draft || same(draft, this.draft)) return;
    if (!back) [this.undo, this.redo] = [[...this.undo, this.draft].slice(-MOST_STEPS), []];
    this.draft = { ...draft, number: this.draft?.number ?? null, version: this.draft?.version ?? 1 };
    document.getElementById("desk-altitude").value = this.draft.altitude_ft ?? "";
    this.say("Checking over the terrain …");
    this.remember();
    this.showSteps();
    this.changedAt = performance.now();
    this.link.send(this.draft, { keep: true });
  }

  step(from, to, name) {
    const draft = this[from].at(-1);
    if (!draft) return;
    this[from] = this[from].slice(0, -1);
    this[to] = [...this[to], this.draft];
    this.change(draft, { back: name });
  }

  showSteps() {
    const can = { undo: this.undo.length > 0, redo: this.redo.length > 0, reverse: this.draft !== null };
    for (const [name, yes] of Object.entries(can)) this.root.querySelector(`[data-do=${name}]`).disabled = !yes;
  }

  answered(answer, { draft, keep }) {
    if (keep) {
      this.kept = answer.draft;
      const newer = !same(this.draft, { ...draft, number: this.draft.number });
      this.draft = newer ? { ...this.draft, number: answer.draft.number, version: answer.draft.version, name: answer.draft.name } : answer.draft;
      if (!this.told.draft) this.opened(answer);
      this.remember();
    }
    this.part("conflict").hidden = true;
    this.show(answer);
    if (this.changedAt && keep) requestAnimationFrame(() => {
      this.root.dataset.verdictMs = String(Math.round((performance.now() - this.changedAt) * 10) / 10);
      this.root.dataset.verdicts = String(Number(this.root.dataset.verdicts ?? 0) + 1);
    });
  }

  show(answer) {
    const first = this.answer === null;
    this.answer = answer;
    const ofRoute = new Set(this.draft.points.filter(({ place_id }) => place_id).map(({ kind, place_id }) => `${kind} ${place_id}`));
    for (const id of [this.draft.departure_id, this.draft.destination_id]) ofRoute.add(`airfield ${id}`);
    for (const leg of answer.legs) for (const { beacon } of leg.guidance) ofRoute.add(`beacon ${beacon}`);
    this.chart.setRoute(answer, ofRoute);
    if (first) this.chart.fit(answer.stops);
    this.fillPanel(answer);
    this.part("section-part").hidden = false;
    this.section.show(answer);
    this.say(answer.spoken);
    this.layers.altitudeChanged();
  }

  // The panel is written anew; who was on a button in it is on the same one again.
  fillPanel(answer) {
    const panel = this.part("panel");
    const at = document.activeElement?.closest?.("[data-stop]");
    const [stop, act] = [at?.dataset.stop, document.activeElement?.dataset?.act];
    const open = [...panel.querySelectorAll("details[open]")].map((each) => each.closest("[data-leg]")?.dataset.leg);
    panel.innerHTML = answer.panel;
    for (const leg of open) panel.querySelector(`[data-leg="${leg}"] details`)?.setAttribute("open", "");
    if (stop !== undefined && act) {
      const same = panel.querySelector(`[data-stop="${stop}"] [data-act=${act}]:not(:disabled)`);
      (same ?? panel.querySelector(`[data-stop="${Math.min(Number(stop), answer.stops.length - 1)}"] [data-act=show]`))?.focus();
    }
  }

  // A route that has just been kept for the first time has an address of its own.
  opened(answer) {
    this.told.draft = answer.draft;
    this.link.version = answer.draft.version;
    window.history.replaceState(null, "", `${answer.path}/desk`);
  }

  refused(answer, { keep }) {
    if (answer.code === "stale-version" && answer.present && same(answer.present, this.draft)) {
      // It was kept, but the answer was lost on the way.
      this.link.version = answer.present.version;
      this.draft = this.kept = answer.present;
      this.remember();
      this.link.send(this.draft, { keep: false });
      return;
    }
    if (answer.code === "stale-version" && answer.present) {
      this.present = answer.present;
      this.part("conflict").hidden = false;
      this.part("conflict").querySelector("span").textContent = `${answer.trouble} What you did is still on this page.`;
      return;
    }
    this.say(`${keep ? "Not kept: " : ""}${answer.trouble}${keep && this.undo.length ? " Undo takes it back." : ""}`);
  }

  connected(yes) {
    const waits = !same(this.draft, this.kept);
    this.part("link").textContent = yes ? "" : `No connection to the server.${waits ? " Your change is kept on this page and sent again." : ""}`;
    this.root.classList.toggle("unlinked", !yes);
  }

  act(name, stop) {
    if (name === "up" || name === "down") this.change(moveStop(this.draft, stop, name === "up" ? -1 : 1));
    if (name === "remove") this.change(removeStop(this.draft, stop));
    if (name === "show") this.choose(this.placeOfStop(stop), { move: true });
    if (name === "after") {
      this.after = stop;
      this.say(`Choose what comes after ${this.answer.stops[stop].ident}: on the chart, or by its name.`);
      document.getElementById("desk-find").focus();
    }
  }

  placeOfStop(stop) {
    const { lat, lon } = this.answer.stops[stop];
    const near = this.chart.places.find((place) => Math.abs(place.lat - lat) < 1e-9 && Math.abs(place.lon - lon) < 1e-9);
    return near ?? { what: "position", lat, lon };
  }

  // A place was chosen: its card, and what can be done with it.
  choose(place, { move = false, others = [] } = {}) {
    this.place = place;
    if (move) this.chart.show(place);
    this.chart.drawAsked(place);
    this.part("here").hidden = false;
    this.fillWays(place, others);
    if (place.what === "beacon") this.layers.beacon = place.id;
    this.askPlace({ ...place, altitude_ft: this.altitude });
  }

  close() {
    this.part("here").hidden = true;
    this.part("card").innerHTML = "";
    this.part("here-ways").innerHTML = "";
    this.chart.drawAsked(null);
    this.chart.drawFix({ lines: [], ellipse: [] });
  }

  fillWays(place, others = []) {
    const ways = this.part("here-ways");
    const name = place.what === "position" ? "this place" : place.ident || place.name;
    ways.innerHTML = "";
    const button = (words, act, main = false) => {
      const made = document.createElement("button");
      made.type = "button";
      made.textContent = words;
      if (main) made.className = "main";
      made.addEventListener("click", act);
      ways.append(made, " ");
    };
    const title = document.createElement("p");
    title.innerHTML = "<strong></strong>";
    title.firstChild.textContent = place.what === "position" ? "A place on the chart" : `${place.ident ?? ""} ${place.name ?? ""} ${place.kind ?? ""} ${place.tune ?? ""}`.trim();
    ways.append(title);
    if (this.draft) {
      const label = document.createElement("label");
      label.textContent = "after ";
      const select = document.createElement("select");
      this.answer?.stops.slice(0, -1).forEach((stop, index) => select.append(new Option(stop.ident, String(index))));
      select.value = String(this.after ?? this.bestLeg(place) - 1);
      label.append(select);
      button(`Fly over ${name}`, () => {
        const stop = Number(select.value);
        this.after = null;
        this.change(insertAfter(this.draft, stop, place));
      }, true);
      ways.append(label, " ");
    }
    if (place.what === "airfield" && !place.off) {
      button("Depart here", () => this.depart(place));
      if (this.draft || this.departure) button("Fly to here", () => this.arrive(place));
    }
    if (place.what === "beacon") {
      const link = document.createElement("a");
      link.href = `${this.told.home}/beacons/${place.id}`;
      link.textContent = "Its card";
      ways.append(link);
    }
    if (others.length) {
      const beside = document.createElement("p");
      beside.className = "beside";
      beside.append("Also here: ");
      for (const other of others) {
        const made = document.createElement("button");
        made.type = "button";
        made.className = "small";
        made.textContent = [other.ident || other.name, other.kind].filter(Boolean).join(" ");
        made.addEventListener("click", () => this.choose(other, { others: [place, ...others.filter((each) => each !== other)] }));
        beside.append(made, " ");
      }
      ways.append(beside);
    }
  }

  // The leg that a place lies beside: the one it makes least longer.
  bestLeg(place) {
    const away = (one, other) => this.chart.map.distance([one.lat, this.chart.near(one.lon)], [other.lat, this.chart.near(other.lon)]);
    const stops = this.answer?.stops ?? [];
    let best = { leg: 1, more: Infinity };
    for (let leg = 1; leg < stops.length; leg += 1) {
      const more = away(stops[leg - 1], place) + away(place, stops[leg]) - away(stops[leg - 1], stops[leg]);
      if (more < best.more - 1) best = { leg, more };
    }
    return best.leg;
  }

  depart(place) {
    if (this.draft) this.change(replaceStop(this.draft, 0, place));
    else {
      this.departure = place;
      this.say(`Departure ${place.ident} ${place.name}. Now click the airfield to fly to.`);
      this.fillWays(place);
    }
  }

  arrive(place) {
    if (this.draft) this.change(replaceStop(this.draft, this.draft.points.length + 1, place));
    else if (this.departure) this.start(this.departure, place);
  }

  start(departure, destination) {
    const onward = { altitude_ft: null, changeover_nm: null, changeover_reason: "" };
    this.draft = { number: null, version: 1, name: "", departure_id: departure.id, destination_id: destination.id, altitude_ft: this.altitude, onward, points: [] };
    this.changedAt = performance.now();
    this.showSteps();
    this.link.send(this.draft, { keep: true });
  }

  // Ask what is known at a place; while one answer is awaited only the latest question waits.
  askPlace(at) {
    this.question = at;
    if (this.asking) return;
    this.asking = true;
    const ask = async () => {
      while (this.question) {
        const { lat, lon, altitude_ft: altitude, guidance } = this.question;
        this.question = null;
        const query = new URLSearchParams({ lat: lat.toFixed(6), lon: lon.toFixed(6), altitude_ft: Math.round(altitude) });
        if (this.draft?.number) query.set("route", this.draft.number);
        if (guidance) query.set("beacon", guidance.beacon);
        if (guidance && guidance.selected !== null) query.set("selected", guidance.selected);
        try {
          const response = await fetch(`${this.told.home}/desk/place?${query}`);
          const answer = await response.json();
          if (!this.question) this.showCard(answer);
        } catch {
          this.part("card").textContent = "No connection: what is known here cannot be asked now.";
        }
        await new Promise((resolve) => setTimeout(resolve, CARD_MS));
      }
      this.asking = false;
    };
    ask();
  }

  showCard(answer) {
    this.part("here").hidden = false;
    if (answer.trouble) this.part("card").textContent = answer.trouble;
    else {
      this.part("card").innerHTML = answer.card;
      this.chart.drawFix(answer);
    }
    this.part("card").dataset.answers = String(Number(this.part("card").dataset.answers ?? 0) + 1);
  }

  fillPlaces() {
    const list = document.getElementById("desk-places");
    const words = (place) => (place.what === "beacon" ? `${place.ident} ${place.kind} ${place.tune} ${place.name}` : `${place.ident ? `${place.ident} ` : ""}${place.name}`);
    this.byWords = new Map(this.chart.places.map((place) => [words(place), place]));
    if (this.byWords.size <= 2500) list.append(...[...this.byWords.keys()].map((each) => new Option(each)));
  }

  // A place by what was typed: its words in the list, its ident or name where that means one, or a position.
  find(text) {
    const typed = text.trim().toLowerCase();
    if (!typed) return null;
    const exact = this.byWords.get(text.trim());
    if (exact) return exact;
    const named = this.chart.places.filter(({ ident, name }) => [ident, name].some((each) => each?.toLowerCase() === typed));
    if (named.length === 1) return named[0];
    if (named.length > 1) {
      this.say(`${named.length} places go by the name ${text.trim()}. Choose one from the list.`);
      return null;
    }
    const angles = text.match(/^\s*(\d+(?:\.\d+)?)[°\s]*(\d+(?:\.\d+)?)?['′\s]*([NS])[,\s]+(\d+(?:\.\d+)?)[°\s]*(\d+(?:\.\d+)?)?['′\s]*([EW])\s*$/i);
    if (angles) {
      const [, latDeg, latMin, ns, lonDeg, lonMin, ew] = angles;
      const lat = (Number(latDeg) + Number(latMin ?? 0) / 60) * (/s/i.test(ns) ? -1 : 1);
      const lon = (Number(lonDeg) + Number(lonMin ?? 0) / 60) * (/w/i.test(ew) ? -1 : 1);
      if (Math.abs(lat) <= 90 && Math.abs(lon) <= 180) return { what: "position", lat, lon };
    }
    this.say(`Nothing here goes by “${text.trim()}”. Type an ident, a name, or a position such as 43 12.5 N 036 40.2 W.`);
    return null;
  }

  lift(ft, leg) {
    return atAltitude(this.draft, ft, document.getElementById("this-leg-on")?.checked ? leg : null);
  }

  // What a leg or a stop that is being dragged would make of the route.
  dragged({ leg, stop, place }) {
    return leg ? insertAfter(this.draft, leg - 1, place) : replaceStop(this.draft, stop, place);
  }

  listen() {
    const { chart, section, root } = this;
    chart.addEventListener("place-asked", ({ detail: { place, others } }) => this.choose(place, { others }));
    chart.addEventListener("route-held", ({ detail }) => {
      const draft = this.dragged(detail);
      if (draft) this.link.send(draft, { keep: false });
    });
    chart.addEventListener("route-let-go", ({ detail }) => {
      const draft = this.dragged(detail);
      if (draft) this.change(draft);
      else {
        this.say("A route begins and ends at an airfield. Drop it onto one.");
        if (this.answer) this.link.send(this.draft, { keep: false });
      }
    });
    chart.addEventListener("route-left", () => this.link.send(this.draft, { keep: false }));
    section.addEventListener("along", ({ detail }) => {
      chart.markPlace(detail.lat, detail.lon);
      this.askPlace(detail);
    });
    section.addEventListener("left", () => chart.markPlace(null));
    section.addEventListener("lifting", ({ detail }) => this.link.send(this.lift(detail.ft, detail.leg), { keep: false }));
    section.addEventListener("lifted", ({ detail }) => this.change(this.lift(detail.ft, detail.leg)));
    section.addEventListener("unlifted", () => this.link.send(this.draft, { keep: false }));
    section.addEventListener("step", ({ detail }) => this.change(this.lift((this.draft.altitude_ft ?? 0) + detail.by, detail.leg)));
    document.getElementById("desk-altitude").addEventListener("change", () => {
      if (this.draft) this.change(atAltitude(this.draft, this.altitude));
      else this.layers.altitudeChanged();
    });
    this.part("find").addEventListener("submit", (event) => {
      event.preventDefault();
      const place = this.find(document.getElementById("desk-find").value);
      if (place) this.choose(place, { move: true });
      if (place) this.part("here-ways").querySelector("button")?.focus();
    });
    this.part("panel").addEventListener("click", ({ target }) => {
      const stop = target.closest("[data-stop]");
      if (stop && target.dataset.act) this.act(target.dataset.act, Number(stop.dataset.stop));
    });
    root.addEventListener("click", ({ target }) => this.press(target.dataset?.do));
    document.addEventListener("keydown", (event) => {
      const typing = event.target.matches?.("input, textarea, select");
      if (typing || !(event.ctrlKey || event.metaKey)) return;
      const key = event.key.toLowerCase();
      if (key === "z") this.press(event.shiftKey ? "redo" : "undo");
      else if (key === "y") this.press("redo");
      else return;
      event.preventDefault();
    });
    window.addEventListener("beforeunload", () => this.draft && this.remember());
  }

  press(name) {
    if (name === "undo") this.step("undo", "redo", name);
    if (name === "redo") this.step("redo", "undo", name);
    if (name === "reverse" && this.draft) this.change(reversed(this.draft));
    if (name === "close") this.close();
    if (name === "theirs") {
      this.link.version = this.present.version;
      this.draft = this.kept = this.present;
      this.part("conflict").hidden = true;
      this.link.send(this.draft, { keep: false });
    }
    if (name === "mine") {
      this.link.version = this.present.version;
      this.kept = this.present;
      this.part("conflict").hidden = true;
      this.link.send(this.draft, { keep: true });
    }
  }
}

async function begin() {
  const root = document.getElementById("desk");
  if (!root) return;
  root.hidden = false;
  const told = JSON.parse(document.getElementById("desk-told").textContent);
  try {
    const response = await fetch(told.chart);
    if (!response.ok) throw new Error("no chart");
    window.beaconryDesk = new Desk(root, told, await response.json());
  } catch (error) {
    console.error(error);
    root.querySelector("[data-verdict]").textContent = "The chart could not be opened. Is the server running? Open the page again; nothing is lost.";
  }
}

begin();
