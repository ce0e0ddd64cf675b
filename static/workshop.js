// The region workshop: places are taken from the chart and put elsewhere, a beacon's coverage follows, sectors are drawn.

import { DeskChart } from "./desk_chart.js";
import { LOOKS, keyItem } from "./layer_looks.js";

const SHELF = { beacon: "beacons", airfield: "airfields", checkpoint: "checkpoints" };
const RAD = Math.PI / 180;

class Workshop {
  constructor(root, told, data) {
    this.root = root;
    this.home = told.home;
    this.part = (name) => root.querySelector(`[data-${name}]`);
    this.chart = new DeskChart(document.getElementById("desk-map"), data);
    this.places = new Map(this.chart.places.map((place) => [`${place.what} ${place.id}`, place]));
    this.listen();
    const words = (place) => [place.ident, place.kind, place.name].filter(Boolean).join(" ");
    this.byWords = new Map(this.chart.places.map((place) => [words(place), place]));
    document.getElementById("desk-places").append(...[...this.byWords.keys()].slice(0, 2500).map((each) => new Option(each)));
    this.say("Click a place.");
    this.openNamed();
  }

  // The place that the address names, such as #beacon-8: where its card sent somebody here.
  openNamed() {
    const [, what, id] = window.location.hash.match(/^#(beacon|airfield|checkpoint)-(\d+)$/) ?? [];
    const place = what && this.chart.places.find((each) => each.what === what && each.id === Number(id));
    if (!place) return;
    this.chart.show(place);
    this.choose(place);
  }

  get altitude() {
    return Number(document.getElementById("desk-altitude").value);
  }

  say(words) {
    this.part("verdict").textContent = words;
  }

  named(place) {
    return [place.ident, place.name].filter(Boolean).join(" ");
  }

  choose(place, others = []) {
    this.leaveSector();
    this.backIfMoved();
    if (this.said) this.say(this.said);
    else this.say(place.what === "position" ? "The ground." : `${this.named(place)}.`);
    this.said = "";
    this.place = place;
    this.part("here").hidden = false;
    this.part("how").hidden = true;
    this.part("moved").hidden = true;
    this.part("sector-form").hidden = true;
    this.part("routes").textContent = "";
    this.part("sectors").innerHTML = "";
    this.chart.drawAsked(place);
    const bare = place.what === "position";
    this.part("title").textContent = bare ? "The ground here" : `${this.named(place)} ${place.kind ?? place.what}`;
    this.part("move-form").hidden = bare;
    this.part("facts").textContent = bare ? "" : place.tune ?? "";
    this.fillWays(place, bare, others);
    if (bare) this.askGround(place);
    else {
      this.part("move-form").lat.value = place.lat;
      this.part("move-form").lon.value = place.lon;
      this.chart.holdPlace(place);
    }
    if (place.what === "beacon") this.tryAt(place, { first: true });
    else this.chart.setAreas(null);
  }

  fillWays(place, bare, others) {
    const ways = this.part("ways");
    ways.innerHTML = "";
    const link = (words, href) => {
      const made = document.createElement("a");
      made.className = "button";
      made.href = href;
      made.textContent = words;
      ways.append(made, " ");
      return made;
    };
    if (bare) {
      const at = `lat=${place.lat.toFixed(6)}&lon=${place.lon.toFixed(6)}`;
      this.newLinks = Object.entries(SHELF).map(([one, shelf]) => link(`New ${one} here`, `${this.home}/${shelf}/new?${at}`));
      return;
    }
    link("Its card", `${this.home}/${SHELF[place.what]}/${place.id}`);
    link("Change it", `${this.home}/${SHELF[place.what]}/${place.id}/edit`);
    if (place.what === "beacon") {
      const draw = document.createElement("button");
      draw.type = "button";
      draw.textContent = "Forbid a sector";
      draw.addEventListener("click", () => this.beginSector());
      ways.append(draw);
    }
    for (const other of others) {
      const made = document.createElement("button");
      made.type = "button";
      made.className = "small";
      made.textContent = `Also here: ${[other.ident || other.name, other.kind].filter(Boolean).join(" ")}`;
      made.addEventListener("click", () => this.choose(other, [place, ...others.filter((each) => each !== other)]));
      ways.append(" ", made);
    }
  }

  async askGround({ lat, lon }) {
    const facts = this.part("facts");
    facts.textContent = "Asking about the ground …";
    const [place, links] = [this.place, this.newLinks];
    const told = await this.fetch(`${this.home}/desk/place?lat=${lat.toFixed(6)}&lon=${lon.toFixed(6)}&altitude_ft=60000`);
    if (!told || this.place !== place) return;
    const known = told.ground_ft !== null;
    facts.textContent = `${told.position}, ground ${known ? `${told.ground_ft} ft` : "not known"}`;
    if (known) for (const link of links.slice(0, 2)) link.href += `&elevation_ft=${told.ground_ft}`;
  }

  async fetch(address, body = null) {
    try {
      const asked = { Accept: "application/json" };
      const options = body ? { method: "POST", headers: { ...asked, "Content-Type": "application/json" }, body: JSON.stringify(body) } : { headers: asked };
      const response = await fetch(address, options);
      const isJson = (response.headers.get("Content-Type") ?? "").includes("json");
      const told = isJson ? await response.json() : null;
      if (response.ok && told) return told;
      this.say(told?.trouble ?? "That cannot be done: look at the figures.");
    } catch {
      this.say("No connection to the server. What you did is still on this page; try it again.");
    }
    return null;
  }

  // Where the beacon would be received from there. Of several questions only the latest is asked next.
  async tryAt(at, { first = false } = {}) {
    const beacon = this.place;
    this.next = { at, first, beacon };
    if (this.trying) return;
    this.trying = true;
    while (this.next) {
      const { at: there, first: still, beacon: of } = this.next;
      this.next = null;
      this.say("Looking over the terrain …");
      const started = performance.now();
      const told = await this.fetch(`${this.home}/workshop/beacons/${of.id}/try`, { lat: there.lat, lon: there.lon, altitude_ft: this.altitude, take_ground: !still && document.getElementById("take-ground").checked });
      if (!told && of === this.place) {
        this.chart.setAreas(null);
        this.part("layer-key").innerHTML = "";
      }
      if (told && of === this.place && !this.next && !this.sector) {
        this.chart.setAreas(told.areas, ({ properties }) => LOOKS[properties.state]);
        this.fillKey(told.areas);
        this.part("facts").textContent = `${of.tune ?? ""}, ${told.position}, elevation ${told.elevation}, ground ${told.ground}`;
        this.tellSectors(told.sectors);
        this.tellRoutes(told.routes, still ? "Used by" : "Would change for");
        this.root.dataset.tryMs = String(Math.round(performance.now() - started));
        this.say(still ? `${this.named(of)} at ${this.altitude.toLocaleString("en")} ft.` : `${this.named(of)} ${told.away} from where it stands: not kept yet.`);
      }
    }
    this.trying = false;
  }

  // What is forbidden already, each with a way to take it back.
  tellSectors(sectors) {
    const list = this.part("sectors");
    list.innerHTML = "";
    for (const { part, index, words } of sectors) {
      const [item, lift] = [document.createElement("li"), document.createElement("button")];
      Object.assign(lift, { type: "button", className: "small", textContent: "Take it back" });
      lift.setAttribute("aria-label", `Take back: ${words}`);
      lift.addEventListener("click", async () => {
        const done = await this.fetch(`${this.home}/workshop/beacons/${this.place.id}/sector/lift`, { part, index, words });
        if (done) this.tryAt(this.place, { first: true });
        this.focusChart();
      });
      item.append(`${words} `, lift);
      list.append(item);
    }
  }

  tellRoutes(routes, words) {
    const line = this.part("routes");
    line.textContent = routes.length ? `${words} the routes ` : "No route uses it.";
    routes.forEach((route, index) => {
      const link = document.createElement("a");
      link.href = route.path;
      link.textContent = route.name;
      line.append(index ? ", " : "", link);
    });
  }

  fillKey(areas) {
    const key = this.part("layer-key");
    key.innerHTML = "";
    for (const { properties } of areas.features) key.append(keyItem(LOOKS[properties.state], properties.state));
  }

  movedTo(at) {
    this.there = { lat: at.lat, lon: at.lon };
    this.part("moved").hidden = false;
    this.part("moved-words").textContent = `${this.named(this.place)} has been put elsewhere on the chart; it is not kept yet.`;
    this.part("move-form").lat.value = at.lat;
    this.part("move-form").lon.value = at.lon;
    this.chart.movePlace(this.place, this.there);
    if (this.place.what === "beacon") this.tryAt(this.there);
    else this.say(`${this.named(this.place)}: not kept yet.`);
  }

  async keep() {
    const [place, there, button] = [this.place, this.there, this.root.querySelector("[data-do=keep]")];
    button.disabled = true;
    const take = document.getElementById("take-ground").checked && place.what !== "checkpoint";
    const told = await this.fetch(`${this.home}/workshop/${SHELF[place.what]}/${place.id}/move`, { ...there, take_ground: take });
    button.disabled = false;
    if (!told) return;
    Object.assign(place, there);
    this.chart.draw();
    this.say(`${this.named(place)} was moved ${told.away} and is kept.`);
    if (place !== this.place) return;
    this.there = null;
    this.part("moved").hidden = true;
    this.chart.markPlace(null);
    this.chart.drawAsked(place);
    this.chart.holdPlace(place);
    this.tellRoutes(told.routes, "Changed for");
    this.focusChart();
  }

  // Who pressed a button that goes away goes on at the chart.
  focusChart() {
    document.getElementById("desk-map").focus();
  }

  backIfMoved() {
    if (!this.there) return;
    this.said = `${this.named(this.place)} is back where it was: its new place had not been kept.`;
    this.there = null;
    this.part("moved").hidden = true;
    this.part("move-form").lat.value = this.place.lat;
    this.part("move-form").lon.value = this.place.lon;
    this.chart.movePlace(this.place, this.place);
    this.chart.holdPlace(this.place);
  }

  // The sector: corners on the chart become radials and distances, which can be corrected.
  beginSector() {
    const form = this.part("sector-form");
    form.hidden = false;
    this.part("move-form").hidden = true;
    form.reset();
    form.part.innerHTML = "";
    const parts = { VOR: ["azimuth"], "VOR/DME": ["azimuth", "distance"], VORTAC: ["azimuth", "distance"], TACAN: ["azimuth", "distance"], DME: ["distance"], NDB: ["bearing"], "NDB/DME": ["bearing", "distance"] };
    form.part.append(...parts[this.place.kind].map((part) => new Option(part)));
    this.sector = [];
    this.chart.still = true;
    form.from_radial_deg.focus();
    this.say("Click where the sector begins, or type it.");
  }

  corner(place) {
    const form = this.part("sector-form");
    if (this.place.zero_true_deg === null) {
      this.say("Its radials cannot be told, so corners on the chart mean nothing. Type the sector.");
      return;
    }
    const { radial, nm } = this.seenFrom(this.place, place);
    this.sector.push(nm);
    if (this.sector.length === 1) {
      form.from_radial_deg.value = radial;
      this.say("Now click where it ends, clockwise.");
    } else {
      form.to_radial_deg.value = radial;
      // Two clicks at about one distance mean all of the sector out to there.
      const [near, far] = [...this.sector].sort((a, b) => a - b);
      form.beyond_nm.value = near > far * 0.8 ? "" : near.toFixed(1);
      form.within_nm.value = far.toFixed(1);
      this.sector = [];
      this.drawSector();
      this.say("Correct the figures if need be, then forbid the sector.");
    }
  }

  // Radial and distance as the station counts them; a degree and a tenth of a mile are what a sector is told in.
  seenFrom(beacon, { lat, lon }) {
    const [phi1, phi2] = [beacon.lat * RAD, lat * RAD];
    const away = this.chart.map.distance([beacon.lat, beacon.lon], [lat, lon]) / 1852;
    const across = (lon - beacon.lon) * RAD;
    const bearing = Math.atan2(Math.sin(across) * Math.cos(phi2), Math.cos(phi1) * Math.sin(phi2) - Math.sin(phi1) * Math.cos(phi2) * Math.cos(across)) / RAD;
    return { radial: ((Math.round(bearing - beacon.zero_true_deg) % 360) + 360) % 360, nm: away };
  }

  sectorQuery() {
    const values = Object.entries(Object.fromEntries(new FormData(this.part("sector-form")))).filter(([, value]) => value !== "");
    return Object.fromEntries(values.map(([name, value]) => [name, ["part", "source"].includes(name) ? value : Number(value)]));
  }

  async drawSector() {
    if (!this.part("sector-form").checkValidity()) return;
    const told = await this.fetch(`${this.home}/workshop/beacons/${this.place.id}/sector.geojson?${new URLSearchParams(this.sectorQuery())}`);
    if (told) this.chart.setAreas(told, () => LOOKS.unusable);
  }

  async forbid() {
    const told = await this.fetch(`${this.home}/workshop/beacons/${this.place.id}/sector`, this.sectorQuery());
    if (!told) return;
    this.leaveSector();
    this.say("The sector is forbidden from now on.");
    this.tryAt(this.place, { first: true });
    this.focusChart();
  }

  unforbid() {
    this.leaveSector();
    this.tryAt(this.place, { first: true });
    this.focusChart();
  }

  leaveSector() {
    if (!this.sector) return;
    this.chart.still = false;
    this.sector = null;
    this.part("sector-form").hidden = true;
    this.part("move-form").hidden = false;
  }

  listen() {
    this.chart.addEventListener("place-asked", ({ detail: { place, others, lat, lon } }) => (this.sector ? this.corner({ lat, lon }) : this.choose(place, others)));
    document.addEventListener("keydown", ({ key }) => key === "Escape" && this.sector && this.unforbid());
    this.chart.addEventListener("place-held", ({ detail }) => this.place.what === "beacon" && this.tryAt(detail.place));
    this.chart.addEventListener("place-let-go", ({ detail }) => this.movedTo(detail.place));
    this.root.addEventListener("click", ({ target }) => {
      const name = target.dataset?.do;
      if (name === "keep") this.keep();
      if (name === "back") {
        this.backIfMoved();
        if (this.place.what === "beacon") this.tryAt(this.place, { first: true });
        this.focusChart();
      }
      if (name === "no-sector") this.unforbid();
    });
    this.part("move-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.movedTo({ lat: Number(event.target.lat.value), lon: Number(event.target.lon.value) });
    });
    this.part("sector-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.forbid();
    });
    this.part("sector-form").addEventListener("change", () => this.drawSector());
    document.getElementById("desk-altitude").addEventListener("change", () => this.place?.what === "beacon" && this.tryAt(this.there ?? this.place, { first: !this.there }));
    document.getElementById("take-ground").addEventListener("change", () => this.there && this.place.what === "beacon" && this.tryAt(this.there));
    this.part("find").addEventListener("submit", (event) => {
      event.preventDefault();
      const typed = document.getElementById("desk-find").value.trim();
      const place = this.byWords.get(typed) ?? this.chart.places.find(({ ident, name }) => [ident, name].some((each) => each && each.toLowerCase() === typed.toLowerCase()));
      if (!place) return this.say(`Nothing here goes by “${typed}”.`);
      this.chart.show(place);
      this.choose(place);
    });
  }
}

async function begin() {
  const root = document.getElementById("workshop");
  root.hidden = false;
  const told = JSON.parse(document.getElementById("desk-told").textContent);
  try {
    const response = await fetch(told.chart);
    if (!response.ok) throw new Error("no chart");
    window.beaconryWorkshop = new Workshop(root, told, await response.json());
  } catch (error) {
    console.error(error);
    root.querySelector("[data-verdict]").textContent = "The chart could not be opened. Is the server running? Open the page again; nothing is lost.";
  }
}

begin();
