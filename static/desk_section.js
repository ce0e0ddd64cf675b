// The section along the route: where the pointer is on it is told as a place, and the planned height can be dragged.

import { folded } from "./conic.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP_FT = 100;
const FIRM_NM = 1;

export class DeskSection extends EventTarget {
  constructor(element) {
    super();
    this.element = element;
    this.at = null;
    element.addEventListener("pointermove", (event) => this.follow(event));
    element.addEventListener("pointerleave", () => this.holding || this.leave());
    element.addEventListener("pointerdown", (event) => this.hold(event));
    element.addEventListener("mousedown", (event) => event.preventDefault()); // a click takes no focus: arrows would then change the altitude
    element.addEventListener("keydown", (event) => this.press(event));
  }

  // The drawing of the server, and the legs and heights it was made from.
  show(answer) {
    if (this.holding) return;
    this.answer = answer;
    this.element.innerHTML = answer.section;
    this.svg = this.element.querySelector("svg");
    const told = Object.fromEntries(Object.entries(this.svg.dataset).map(([key, value]) => [key, Number(value)]));
    this.plot = told;
    this.total = told.totalNm;
    this.cursor = this.add("line", { y1: told.top, y2: told.bottom, class: "section-cursor", visibility: "hidden" });
    this.lifted = this.add("line", { x1: told.left, x2: told.right, class: "section-lifted", visibility: "hidden" });
    this.words = this.add("text", { class: "section-words", visibility: "hidden" });
    const line = answer.profile.map(([nm, ft]) => `${this.x(nm)},${this.y(ft)}`).join(" ");
    this.element.setAttribute("aria-valuemax", this.total.toFixed(1));
    this.grip = this.add("polyline", { points: line, class: "height-grip", fill: "none" });
    if (this.at !== null) this.point(Math.min(this.at, this.total));
    else this.speak(0);
  }

  add(name, attributes) {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    this.svg.append(element);
    return element;
  }

  x(nm) {
    return this.plot.left + ((this.plot.right - this.plot.left) * nm) / this.total;
  }

  y(ft) {
    const { top, bottom, bottomFt: low, topFt: high } = this.plot;
    return bottom - ((bottom - top) * (ft - low)) / (high - low);
  }

  under(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    const { left, right, top, bottom, bottomFt: low, topFt: high } = this.plot;
    const nm = Math.min(Math.max(((at.x - left) / (right - left)) * this.total, 0), this.total);
    return { nm, ft: low + ((bottom - at.y) / (bottom - top)) * (high - low), inside: at.x >= left - 8 && at.x <= right + 8 };
  }

  altitudeAt(nm) {
    const { profile } = this.answer;
    const after = profile.findIndex(([at]) => at >= nm);
    if (after <= 0) return profile.at(after === 0 ? 0 : -1)[1];
    const [[nm0, ft0], [nm1, ft1]] = [profile[after - 1], profile[after]];
    return nm1 > nm0 ? ft0 + ((ft1 - ft0) * (nm - nm0)) / (nm1 - nm0) : ft1;
  }

  legAt(nm) {
    return this.answer.legs.find((leg) => nm <= leg.start_nm + leg.length_nm) ?? this.answer.legs.at(-1);
  }

  // The place on the ground, between the places of its leg's line.
  placeAt(nm) {
    const leg = this.legAt(nm);
    const share = leg.length_nm > 0 ? Math.min(Math.max((nm - leg.start_nm) / leg.length_nm, 0), 1) : 0;
    const along = share * (leg.line.length - 1);
    const first = Math.min(Math.floor(along), Math.max(leg.line.length - 2, 0));
    const [from, to] = [leg.line[first], leg.line[Math.min(first + 1, leg.line.length - 1)]];
    const across = folded(to[1] - from[1]);
    return { lat: from[0] + (to[0] - from[0]) * (along - first), lon: from[1] + across * (along - first) };
  }

  guidanceAt(nm) {
    const leg = this.legAt(nm);
    const on = nm - leg.start_nm;
    const tuned = leg.guidance.filter((each) => each.to_nm > each.from_nm);
    return tuned.find((each) => on <= each.to_nm) ?? tuned.at(-1) ?? null;
  }

  // Show where a share of a leg is, told by the chart.
  mark(number, share) {
    const leg = this.answer?.legs[number - 1];
    if (leg && !this.holding) this.draw(leg.start_nm + share * leg.length_nm);
  }

  draw(nm) {
    const x = this.x(nm);
    for (const end of ["x1", "x2"]) this.cursor.setAttribute(end, x);
    this.cursor.setAttribute("visibility", "visible");
  }

  nmWords(nm) {
    return `${nm.toFixed(1)} NM`;
  }

  // What a screen reader says of where one is.
  speak(nm) {
    const { number, stretches } = this.legAt(nm);
    const heard = stretches.find(({ to_nm: to }) => nm - this.legAt(nm).start_nm <= to)?.words ?? "no beacon";
    this.element.setAttribute("aria-valuenow", nm.toFixed(1));
    this.element.setAttribute("aria-valuetext", `${this.nmWords(nm)}, leg ${number}, ${Math.round(this.altitudeAt(nm))} ft, ${heard}`);
  }

  point(nm) {
    this.at = nm;
    this.draw(nm);
    this.speak(nm);
    this.dispatchEvent(new CustomEvent("along", { detail: { nm, ...this.placeAt(nm), altitude_ft: Math.round(this.altitudeAt(nm)), guidance: this.guidanceAt(nm), leg: this.legAt(nm).number } }));
  }

  leave() {
    this.at = null;
    this.cursor?.setAttribute("visibility", "hidden");
    this.dispatchEvent(new CustomEvent("left"));
  }

  follow(event) {
    if (!this.svg || this.holding) return;
    const { nm, inside } = this.under(event);
    if (inside) this.point(nm);
  }

  hold(event) {
    if (event.target !== this.grip || event.button !== 0) return;
    event.preventDefault();
    const { nm } = this.under(event);
    this.holding = { leg: this.legAt(nm).number, ft: null };
    this.dispatchEvent(new CustomEvent("held", { detail: true }));
    const move = (at) => {
      const ft = Math.round(this.under(at).ft / STEP_FT) * STEP_FT;
      if (at.pointerId !== event.pointerId || ft === this.holding.ft) return;
      at.preventDefault();
      this.holding.ft = ft;
      for (const end of ["y1", "y2"]) this.lifted.setAttribute(end, this.y(ft));
      this.lifted.setAttribute("visibility", "visible");
      this.words.setAttribute("visibility", "visible");
      this.words.setAttribute("x", this.plot.left + 8);
      this.words.setAttribute("y", this.y(ft) - 6);
      this.words.textContent = `${ft.toLocaleString("en")} ft`;
      this.dispatchEvent(new CustomEvent("lifting", { detail: { ...this.holding } }));
    };
    const end = (at) => {
      if (at.pointerId !== event.pointerId) return;
      for (const [name, listener] of listeners) window.removeEventListener(name, listener);
      const { leg, ft } = this.holding;
      this.holding = null;
      this.dispatchEvent(new CustomEvent("held", { detail: false }));
      for (const part of [this.lifted, this.words]) part.setAttribute("visibility", "hidden");
      if (ft !== null && at.type === "pointerup") this.dispatchEvent(new CustomEvent("lifted", { detail: { leg, ft } }));
      else this.dispatchEvent(new CustomEvent("unlifted"));
    };
    const escape = ({ key }) => key === "Escape" && end({ pointerId: event.pointerId, type: "escape" });
    const listeners = [["pointermove", move], ["pointerup", end], ["pointercancel", end], ["keydown", escape]];
    for (const [name, listener] of listeners) window.addEventListener(name, listener, { passive: false });
  }

  press(event) {
    if (!this.svg || event.target !== this.element) return;
    const along = { ArrowLeft: -FIRM_NM, ArrowRight: FIRM_NM, PageUp: 10 * FIRM_NM, PageDown: -10 * FIRM_NM }[event.key];
    const up = { ArrowUp: 500, ArrowDown: -500 }[event.key];
    if (along) this.point(Math.min(Math.max((this.at ?? 0) + along, 0), this.total));
    else if (event.key === "Home" || event.key === "End") this.point(event.key === "Home" ? 0 : this.total);
    else if (up) this.dispatchEvent(new CustomEvent("step", { detail: { leg: this.legAt(this.at ?? 0).number, by: up } }));
    else return;
    event.preventDefault();
  }
}
