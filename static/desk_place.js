// The panel of one place: what it is, what can be done with it, and what is known there.

import { folded } from "./conic.js";

const PAUSE_MS = 140;

// Words of a place as a title.
const titleOf = (place) => (place.what === "position" ? "A place on the chart" : [place.ident, place.name, place.kind, place.tune].filter(Boolean).join(" "));

export class PlacePanel {
  // told: {home, route() -> number or null, chart}
  constructor(root, told) {
    Object.assign(this, told);
    this.panel = root.querySelector("[data-here]");
    this.ways = root.querySelector("[data-here-ways]");
    this.card = root.querySelector("[data-card]");
    this.question = null;
  }

  // ways: [{words, act, main?, href?, list?}] in order; others: places in the same spot, and what happens when one is chosen
  show(place, ways, others = [], chooseOther = null) {
    this.panel.hidden = false;
    this.ways.innerHTML = "";
    const title = document.createElement("p");
    title.append(Object.assign(document.createElement("strong"), { textContent: place.title ?? titleOf(place) }));
    this.ways.append(title);
    for (const way of ways) this.ways.append(this.wayOf(way), " ");
    if (others.length) {
      const beside = Object.assign(document.createElement("p"), { className: "beside", textContent: "Also here: " });
      for (const other of others) {
        const words = [other.ident || other.name, other.kind].filter(Boolean).join(" ");
        beside.append(this.button({ words, act: () => chooseOther(other, [place, ...others.filter((each) => each !== other)]), small: true }), " ");
      }
      this.ways.append(beside);
    }
  }

  wayOf(way) {
    if (way.href) return Object.assign(document.createElement("a"), { href: way.href, textContent: way.words });
    if (!way.list) return this.button(way);
    const label = Object.assign(document.createElement("label"), { textContent: `${way.words} ` });
    label.append(way.list);
    return label;
  }

  button({ words, act, main = false, small = false }) {
    const made = Object.assign(document.createElement("button"), { type: "button", textContent: words, className: main ? "main" : small ? "small" : "" });
    made.addEventListener("click", act);
    return made;
  }

  focus() {
    this.ways.querySelector("button")?.focus();
  }

  close() {
    this.question = this.asked = null;
    this.panel.hidden = true;
    this.card.innerHTML = this.ways.innerHTML = "";
    this.chart.drawAsked(null);
    this.chart.drawFix({ lines: [], ellipse: [] });
  }

  // Ask what is known at a place: {lat, lon, altitude_ft, guidance?}. While one answer is awaited only the latest question waits.
  ask(at) {
    this.question = at;
    if (!this.asking) this.asking = this.askAll().finally(() => { this.asking = null; });
  }

  async askAll() {
    while (this.question) {
      const asked = (this.asked = this.question);
      this.question = null;
      const answer = await this.fetch(asked);
      if (this.asked === asked) this.tell(answer);
      await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
    }
  }

  async fetch({ lat, lon, altitude_ft: altitude, guidance }) {
    const query = new URLSearchParams({ lat: lat.toFixed(6), lon: folded(lon).toFixed(6), altitude_ft: Math.round(altitude) });
    if (this.route()) query.set("route", this.route());
    if (guidance) query.set("beacon", guidance.beacon);
    if (guidance && guidance.selected_course_deg !== null) query.set("selected", guidance.selected_course_deg);
    try {
      const response = await fetch(`${this.home}/desk/place?${query}`, { headers: { Accept: "application/json" } });
      return await response.json();
    } catch {
      return { trouble: "No connection: what is known here cannot be asked now." };
    }
  }

  tell(answer) {
    if (answer.trouble) this.card.textContent = answer.trouble;
    else this.card.innerHTML = answer.card;
    this.chart.drawFix(answer.trouble ? { lines: [], ellipse: [] } : answer);
    this.card.dataset.answers = String(Number(this.card.dataset.answers ?? 0) + 1);
  }
}
