// The planning desk: holds the route, its past and its future, and passes what the person does on to the server and its answers on to
// the chart, the section and the panels.

import { DeskChart } from "./desk_chart.js";
import { DeskLayers } from "./desk_layers.js";
import { Link } from "./desk_link.js";
import { PlacePanel } from "./desk_place.js";
import { DeskSection } from "./desk_section.js";
import { findPlace, wordsOf } from "./place_search.js";
import { atAltitude, hasLevels, insertAfter, levelOf, moveStop, removeStop, replaceStop, reversed, same } from "./route_edit.js";

const MOST_STEPS = 100;

class Desk {
  constructor(root, told, data) {
    this.root = root;
    this.told = told;
    this.part = (name) => root.querySelector(`[data-${name}]`);
    this.box = document.getElementById("desk-altitude");
    this.draft = this.kept = told.draft;
    this.answer = this.after = this.refusedDraft = null;
    this.undo = [];
    this.redo = [];
    this.chart = new DeskChart(document.getElementById("desk-map"), data);
    this.section = new DeskSection(this.part("section"));
    this.layers = new DeskLayers(root, this.chart, told.home, () => this.altitude);
    this.place = new PlacePanel(root, { home: told.home, route: () => this.draft?.number, chart: this.chart });
    this.link = new Link({ home: told.home, answered: (...all) => this.answered(...all), refused: (...all) => this.refused(...all), connected: (yes) => this.connected(yes) });
    if (told.draft) this.link.from(told.draft);
    this.byWords = new Map(this.chart.places.map((place) => [wordsOf(place), place]));
    if (this.byWords.size <= 2500) document.getElementById("desk-places").append(...[...this.byWords.keys()].map((each) => new Option(each)));
    this.listen();
    this.begin();
  }

  // The altitude that is typed; of a route that has none yet, and before there is one, what the page begins with.
  get altitude() {
    return this.box.value === "" ? this.draft?.altitude_ft ?? this.told.altitude_ft : Number(this.box.value);
  }

  get store() {
    return `beaconry-desk ${this.told.home} ${this.draft?.number ?? "new"}`;
  }

  // What was not sent when the page was left comes back, under the version it was made from; so do the steps that can be undone, unless
  // the route was changed elsewhere since.
  begin() {
    this.showAltitude();
    let past = null;
    try {
      past = this.draft && JSON.parse(sessionStorage.getItem(this.store) ?? "null");
    } catch { /* what cannot be read is not there */ }
    const waits = past?.unsent && past.draft && !same(past.draft, this.draft);
    if (past && (waits || past.version === this.draft.version)) [this.undo, this.redo] = [past.undo ?? [], past.redo ?? []];
    if (waits) {
      this.draft = past.draft;
      this.link.from({ number: this.told.draft.number, version: past.version });
      this.showAltitude();
      this.say("Your last change had not been kept yet. It is being sent now.");
      this.wait();
      this.link.send(this.draft, { keep: true });
    } else if (this.draft) this.link.send(this.draft, { keep: false });
    else this.say("Click an airfield to depart from.");
    this.showSteps();
  }

  remember() {
    if (!this.draft?.number) return;
    const last = (steps) => steps.slice(-MOST_STEPS);
    const past = { draft: this.draft, version: this.link.version, undo: last(this.undo), redo: last(this.redo), unsent: !same(this.draft, this.kept) };
    try {
      sessionStorage.setItem(this.store, JSON.stringify(past));
    } catch { /* a full store keeps nothing; the server does */ }
  }

  say(words) {
    this.part("verdict").textContent = words;
  }

  showAltitude() {
    this.box.value = this.draft ? this.draft.altitude_ft ?? "" : this.told.altitude_ft;
  }

  // A change by the person: it is kept at once, and can be undone.
  change(draft, { step = false } = {}) {
    if (!draft || same(draft, this.draft)) return;
    // What was refused is no step to come back to: the one before it is on the stack already.
    if (!step) [this.undo, this.redo] = [same(this.draft, this.refusedDraft) ? this.undo : [...this.undo, this.draft].slice(-MOST_STEPS), []];
    this.aside = hasLevels(this.draft) && !hasLevels(draft) ? " The levels chosen for single legs are gone; Undo brings them back." : "";
    this.draft = { ...draft, number: this.draft.number, version: this.draft.version };
    this.after = null;
    this.showAltitude();
    this.say("Checking over the terrain …");
    this.remember();
    this.showSteps();
    this.wait();
    this.changedAt = performance.now();
    this.link.send(this.draft, { keep: true });
  }

  // Until the answer is there, what is shown is the route before: it is marked so, and nothing in it can be taken hold of.
  wait() {
    const at = document.activeElement?.closest?.("[data-stop]");
    if (at) this.returnTo = { stop: at.dataset.stop, act: document.activeElement.dataset.act };
    else if (this.place.panel.contains(document.activeElement)) this.returnTo = { map: true };
    this.setWaiting(true);
  }

  setWaiting(yes) {
    this.root.classList.toggle("waiting", yes);
    this.part("panel").inert = this.place.ways.inert = yes;
    this.part("panel").setAttribute("aria-busy", String(yes));
    this.chart.still = yes;
  }

  step(from, to) {
    const draft = this[from].at(-1);
    if (!draft) return;
    this[from] = this[from].slice(0, -1);
    if (!same(this.draft, this.refusedDraft)) this[to] = [...this[to], this.draft];
    this.change(draft, { step: true });
  }

  showSteps() {
    const can = { undo: this.undo.length > 0, redo: this.redo.length > 0, reverse: this.draft !== null, chain: Boolean(this.draft?.number) };
    for (const [name, yes] of Object.entries(can)) this.root.querySelector(`[data-do=${name}]`).disabled = !yes;
  }

  answered(answer, { draft, keep }) {
    const latest = same(draft, this.draft);
    if (keep) {
      this.part("conflict").hidden = true;
      this.kept = answer.draft;
      if (!this.told.draft) this.opened(answer);
      this.showSteps();
      this.draft = latest ? answer.draft : { ...this.draft, number: answer.draft.number, version: answer.draft.version };
      this.remember();
    }
    this.show(answer, latest && (keep || same(draft, this.kept)));
    if (this.changedAt && keep && latest) requestAnimationFrame(() => {
      this.root.dataset.verdictMs = String(Math.round((performance.now() - this.changedAt) * 10) / 10);
      this.root.dataset.verdicts = String(Number(this.root.dataset.verdicts ?? 0) + 1);
    });
  }

  // settled: whether the answer is to the route as it stands and is kept
  show(answer, settled) {
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
    this.say(`${answer.spoken}${settled ? this.aside ?? "" : ""}`);
    if (settled) {
      this.setWaiting(false);
      this.focusAgain(answer);
      if (this.chosen && !this.place.panel.hidden) this.choose(this.chosen.place, { others: this.chosen.others });
    }
    this.layers.altitudeChanged();
  }

  // The panel is written anew; what was open in it is open again.
  fillPanel(answer) {
    const panel = this.part("panel");
    const open = [...panel.querySelectorAll("details[open]")].map((each) => each.closest("[data-leg]")?.dataset.leg);
    panel.innerHTML = answer.panel;
    for (const leg of open) panel.querySelector(`[data-leg="${leg}"] details`)?.setAttribute("open", "");
  }

  // Who was on a button that went away for a moment is on the same one again, or on the next that is there.
  focusAgain(answer) {
    const { stop, act, map } = this.returnTo ?? {};
    this.returnTo = null;
    if (document.activeElement !== document.body) return;
    if (map) document.getElementById("desk-map").focus();
    if (stop === undefined) return;
    const panel = this.part("panel");
    const again = panel.querySelector(`[data-stop="${stop}"] [data-act=${act}]:not(:disabled)`);
    (again ?? panel.querySelector(`[data-stop="${Math.min(Number(stop), answer.stops.length - 1)}"] [data-act=show]`))?.focus();
  }

  // A route that has just been kept for the first time has an address and a name of its own.
  opened(answer) {
    this.told.draft = answer.draft;
    window.history.replaceState(null, "", `${answer.path}/desk`);
    document.querySelector("h1").textContent = `Desk: ${answer.draft.name}`;
  }

  refused(answer, { keep }) {
    if (answer.code === "stale-version" && answer.present && same(answer.present, this.draft)) return this.take(answer.present); // the answer was lost
    if (answer.code === "stale-version" && answer.present) {
      this.present = answer.present;
      const told = this.part("conflict");
      told.hidden = false;
      told.querySelector("span").textContent = `${answer.trouble} What you did is still on this page.`;
      const shown = this.answer ? "the route before your change" : "what is there now";
      this.say(`Not kept: the route was changed elsewhere. What is shown is ${shown}.`);
      if (!this.answer) this.link.send(answer.present, { keep: false });
      return undefined;
    }
    if (keep && !this.told.draft) {
      this.draft = null;
      this.showSteps();
      this.setWaiting(false);
    }
    if (keep) this.refusedDraft = this.draft;
    const before = keep && this.answer ? " What is shown is the route before." : "";
    this.say(`${keep ? "Not kept: " : ""}${answer.trouble}${before}${keep && this.undo.length ? " Undo takes it back." : ""}`);
    return undefined;
  }

  // Take the route as the server has it.
  take(present) {
    this.link.from(present);
    this.draft = this.kept = present;
    this.part("conflict").hidden = true;
    this.showAltitude();
    this.showSteps();
    this.remember();
    this.link.send(this.draft, { keep: false });
  }

  connected(yes) {
    const waits = this.draft && !same(this.draft, this.kept);
    this.part("link").textContent = yes ? "" : `No connection to the server.${waits ? " Your change is kept on this page and sent again." : ""}`;
  }

  act(name, stop) {
    if (name === "up" || name === "down") this.change(moveStop(this.draft, stop, name === "up" ? -1 : 1));
    if (name === "remove") this.change(removeStop(this.draft, stop));
    if (name === "show") this.choose(this.placeOfStop(stop), { move: true });
    if (name === "after") {
      this.after = stop;
      this.say(`Choose what comes after ${this.answer.stops[stop].ident}: on the chart, or by its name.`);
      document.getElementById("desk-find").select();
    }
  }

  placeOfStop(stop) {
    const { lat, lon } = this.answer.stops[stop];
    return this.chart.places.find((place) => Math.abs(place.lat - lat) < 1e-9 && Math.abs(place.lon - lon) < 1e-9) ?? { what: "position", lat, lon };
  }

  // A place was chosen: its card, and what can be done with it.
  choose(place, { move = false, others = [], focus = false } = {}) {
    this.chosen = { place, others };
    if (move) this.chart.show(place);
    this.chart.drawAsked(place);
    this.place.show(place, this.waysOf(place), others, (other, rest) => this.choose(other, { others: rest, focus: true }));
    if (place.what === "beacon") this.layers.beacon = place.id;
    this.place.ask({ ...place, altitude_ft: this.altitude });
    if (focus) this.place.focus();
  }

  waysOf(place) {
    const ways = [];
    const name = place.what === "position" ? "this place" : place.ident || place.name;
    if (this.draft && this.answer) {
      const list = document.createElement("select");
      this.answer.stops.slice(0, -1).forEach((stop, index) => list.append(new Option(stop.ident, String(index))));
      list.value = String(this.after ?? this.bestLeg(place) - 1);
      ways.push({ words: `Fly over ${name}`, main: true, act: () => this.goOn(insertAfter(this.draft, Number(list.value), place)) });
      ways.push({ words: "after", list });
    }
    if (place.what === "airfield" && !place.off) {
      const depart = { words: "Depart here", act: () => this.depart(place) };
      const arrive = { words: "Fly to here", main: !this.draft, act: () => this.arrive(place) };
      if (this.draft) ways.push(depart, arrive);
      else ways.push(...(this.departure && this.departure !== place ? [arrive, depart] : [depart]));
    }
    if (place.what === "beacon") ways.push({ words: "Its card", href: `${this.told.home}/beacons/${place.id}` });
    return ways;
  }

  // The leg that a place lies beside: the one it makes least longer.
  bestLeg(place) {
    const away = (one, other) => this.chart.map.distance([one.lat, this.chart.near(one.lon)], [other.lat, this.chart.near(other.lon)]);
    const { stops } = this.answer;
    const more = stops.slice(1).map((stop, index) => away(stops[index], place) + away(place, stop) - away(stops[index], stop));
    return more.indexOf(Math.min(...more)) + 1;
  }

  // A change made from the panel of a place: the panel has done its work.
  goOn(draft) {
    if (!draft || same(draft, this.draft)) return;
    this.change(draft);
    this.chosen = null;
    this.place.close();
  }

  depart(place) {
    if (this.draft) this.goOn(replaceStop(this.draft, 0, place));
    else {
      this.departure = place;
      this.say(`Departure ${place.ident} ${place.name}. Now choose the airfield to fly to.`);
      document.getElementById("desk-find").select();
    }
  }

  arrive(place) {
    if (this.draft) this.goOn(replaceStop(this.draft, this.draft.points.length + 1, place));
    else this.start(this.departure, place);
  }

  start(departure, destination) {
    const onward = { altitude_ft: null, changeover_nm: null, changeover_reason: "" };
    const key = Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
    this.draft = { number: null, key, version: 1, name: "", departure_id: departure.id, destination_id: destination.id, altitude_ft: this.altitude, onward, points: [] };
    this.changedAt = performance.now();
    this.showSteps();
    this.wait();
    this.say("Checking over the terrain …");
    this.place.close();
    this.link.send(this.draft, { keep: true });
  }

  find(text) {
    const found = findPlace(text, this.chart.places, this.byWords);
    if (found.trouble) this.say(found.trouble);
    return found.place ?? null;
  }

  lift(ft, leg) {
    return atAltitude(this.draft, ft, document.getElementById("this-leg-on").checked ? leg : null);
  }

  liftBy(leg, by) {
    const from = document.getElementById("this-leg-on").checked ? levelOf(this.draft, leg) : this.draft.altitude_ft;
    if (from === null) this.say("Give an altitude first.");
    else this.change(this.lift(from + by, leg));
  }

  // The shortest chain of beacons whose every leg is received; it takes the place of the points, and Undo brings them back.
  async findChain(restricted = false) {
    this.say("Checking legs over the terrain …");
    const asked = this.draft;
    try {
      const response = await fetch(`${this.told.home}/desk/chain${restricted ? "?restricted=true" : ""}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(asked) });
      const told = await response.json();
      if (asked !== this.draft) return;
      document.querySelector('[data-do="chain-restricted"]').hidden = !told.restricted_left_out;
      if (told.draft && !same(told.draft, this.draft)) {
        this.change(told.draft);
        this.aside = ` ${told.words}`;
      } else this.say(told.trouble ?? told.words);
    } catch {
      this.say("No connection to the server. Nothing was changed.");
    }
  }

  // What a leg or a stop that is being dragged would make of the route.
  dragged({ leg, stop, place }) {
    return leg ? insertAfter(this.draft, leg - 1, place) : replaceStop(this.draft, stop, place);
  }

  dropped(detail) {
    const draft = this.dragged(detail);
    if (draft && !same(draft, this.draft)) return this.change(draft);
    if (!draft) this.say("A route begins and ends at an airfield. Drop it onto one.");
    return this.link.send(this.draft, { keep: false });
  }

  typedAltitude() {
    if (!this.draft) this.layers.altitudeChanged();
    else if (this.box.value === "") {
      this.showAltitude();
      this.say("An empty altitude changes nothing.");
    } else this.change(atAltitude(this.draft, Number(this.box.value)));
  }

  // While something is held nothing on the page may move under the pointer.
  holdStill(yes) {
    this.held = yes;
    const line = this.root.querySelector(".desk-status");
    line.style.height = yes ? `${line.getBoundingClientRect().height}px` : "";
    line.style.overflow = yes ? "hidden" : "";
  }

  listen() {
    const { chart, section } = this;
    for (const each of [chart, section]) each.addEventListener("held", ({ detail }) => this.holdStill(detail));
    chart.addEventListener("place-asked", ({ detail: { place, others } }) => this.choose(place, { others }));
    chart.addEventListener("route-held", ({ detail }) => {
      const draft = this.dragged(detail);
      if (draft) this.link.send(draft, { keep: false });
    });
    chart.addEventListener("route-let-go", ({ detail }) => this.dropped(detail));
    chart.addEventListener("route-left", () => this.link.send(this.draft, { keep: false }));
    chart.addEventListener("over-leg", ({ detail: { leg, share } }) => section.mark(leg, share));
    section.addEventListener("along", ({ detail }) => {
      chart.markPlace(detail.lat, detail.lon);
      this.chosen = null;
      this.place.show({ title: `Leg ${detail.leg}, ${section.nmWords(detail.nm)} from the departure` }, []);
      this.place.ask(detail);
    });
    section.addEventListener("left", () => chart.markPlace(null));
    section.addEventListener("lifting", ({ detail }) => this.link.send(this.lift(detail.ft, detail.leg), { keep: false }));
    section.addEventListener("lifted", ({ detail }) => this.change(this.lift(detail.ft, detail.leg)));
    section.addEventListener("unlifted", () => this.link.send(this.draft, { keep: false }));
    section.addEventListener("step", ({ detail }) => this.liftBy(detail.leg, detail.by));
    this.box.addEventListener("change", () => this.typedAltitude());
    this.part("find").addEventListener("submit", (event) => {
      event.preventDefault();
      const place = this.find(document.getElementById("desk-find").value);
      if (!place) return;
      this.say(this.answer?.spoken ?? `${wordsOf(place)}.`);
      this.choose(place, { move: true, focus: true });
    });
    this.part("panel").addEventListener("click", ({ target }) => {
      const stop = target.closest("[data-stop]");
      if (stop && target.dataset.act) this.act(target.dataset.act, Number(stop.dataset.stop));
    });
    this.root.addEventListener("click", ({ target }) => this.press(target.dataset?.do));
    document.addEventListener("keydown", (event) => this.hotkey(event));
    window.addEventListener("beforeunload", () => this.remember());
  }

  hotkey(event) {
    if (event.key === "Escape" && this.place.panel.contains(event.target)) this.press("close");
    const typing = event.target.matches?.("input, textarea, select");
    if (typing || this.held || !(event.ctrlKey || event.metaKey)) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    this.press(key === "y" || event.shiftKey ? "redo" : "undo");
  }

  press(name) {
    if (name === "undo") this.step("undo", "redo");
    if (name === "redo") this.step("redo", "undo");
    if (name === "reverse" && this.draft) this.change(reversed(this.draft));
    if (name === "chain" && this.draft?.number) this.findChain();
    if (name === "chain-restricted" && this.draft?.number) this.findChain(true);
    if (name === "close") {
      this.place.close();
      document.getElementById("desk-map").focus();
    }
    if (name === "theirs") {
      [this.undo, this.redo] = [[...this.undo, this.draft].slice(-MOST_STEPS), []];
      this.take(this.present);
      this.say("What was changed elsewhere is shown. Undo brings yours back.");
      document.getElementById("desk-map").focus();
    }
    if (name === "mine") {
      this.link.from(this.present);
      this.kept = this.present;
      this.part("conflict").hidden = true;
      this.link.send(this.draft, { keep: true });
      document.getElementById("desk-map").focus();
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
