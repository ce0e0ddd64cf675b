// What the chart of a route gains with scripts on: it can be moved and enlarged by mouse, finger and keyboard, tells the place under the
// pointer, and asks or adds a point there. The drawing is the server's; only its viewBox changes.

import { conic } from "./conic.js";

const CLOSEST = 12; // times larger than the whole chart
const STEP = 1.4;

const minutes = (deg, letters, width) => {
  const thousandths = Math.round(Math.abs(deg) * 60000);
  const whole = String(Math.floor(thousandths / 60000)).padStart(width, "0");
  const rest = ((thousandths % 60000) / 1000).toFixed(3).padStart(6, "0");
  return `${whole} ${rest}${letters[deg < 0 ? 1 : 0]}`;
};
export const words = ({ lat, lon }) => `${minutes(lat, "NS", 2)} ${minutes(lon, "EW", 3)}`;

export class Chart {
  constructor(svg, tools) {
    this.svg = svg;
    const told = svg.dataset;
    const number = (name) => Number(told[name]);
    this.projection = conic({ lat1: number("lat1"), lat2: number("lat2"), lat0: number("lat0"), lon0: number("lon0") });
    this.frame = { west: number("west"), north: number("north"), metres: number("metres") };
    const [, , width, height] = svg.getAttribute("viewBox").split(" ").map(Number);
    this.whole = { x: 0, y: 0, width, height };
    this.view = { ...this.whole };
    this.spoken = tools.querySelector("[data-place]");
    this.fingers = new Map();
    this.listen(tools);
  }

  // The place on the ground under a point of the window.
  placeAt(clientX, clientY) {
    const at = new DOMPoint(clientX, clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    const { west, north, metres } = this.frame;
    return { ...this.projection.fromPlane(west + at.x * metres, north - at.y * metres), x: at.x, y: at.y };
  }

  show(view) {
    const width = Math.min(Math.max(view.width, this.whole.width / CLOSEST), this.whole.width);
    const height = (width * this.whole.height) / this.whole.width;
    const x = Math.min(Math.max(view.x, 0), this.whole.width - width);
    const y = Math.min(Math.max(view.y, 0), this.whole.height - height);
    this.view = { x, y, width, height };
    this.svg.setAttribute("viewBox", `${x} ${y} ${width} ${height}`);
  }

  // Enlarge about a point of the drawing, which stays where it is.
  enlarge(times, about = this.middle()) {
    const width = this.view.width / times;
    const share = Math.min(Math.max(width, this.whole.width / CLOSEST), this.whole.width) / this.view.width;
    this.show({ x: about.x - (about.x - this.view.x) * share, y: about.y - (about.y - this.view.y) * share, width });
  }

  middle() {
    return { x: this.view.x + this.view.width / 2, y: this.view.y + this.view.height / 2 };
  }

  move(across, down) {
    this.show({ ...this.view, x: this.view.x + across * this.view.width, y: this.view.y + down * this.view.height });
  }

  ask(place) {
    this.asked = place;
    this.spoken.textContent = words(place);
    document.dispatchEvent(new CustomEvent("chart-place", { detail: place }));
  }

  listen(tools) {
    const { svg } = this;
    svg.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !event.shiftKey && document.activeElement !== svg.parentElement) return;
      event.preventDefault();
      this.enlarge(event.deltaY < 0 ? STEP : 1 / STEP, this.placeAt(event.clientX, event.clientY));
    }, { passive: false });
    svg.addEventListener("pointerdown", (event) => {
      this.fingers.set(event.pointerId, event);
      this.moved = 0;
    });
    svg.addEventListener("pointermove", (event) => this.drag(event));
    for (const end of ["pointerup", "pointercancel", "pointerleave"]) svg.addEventListener(end, (event) => this.fingers.delete(event.pointerId));
    svg.addEventListener("click", (event) => {
      if (this.moved < 5) this.ask(this.placeAt(event.clientX, event.clientY));
    });
    svg.parentElement.addEventListener("keydown", (event) => this.press(event));
    tools.addEventListener("click", (event) => {
      const way = event.target.dataset.chart;
      if (way === "larger") this.enlarge(STEP);
      if (way === "smaller") this.enlarge(1 / STEP);
      if (way === "whole") this.show(this.whole);
    });
  }

  drag(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before || event.buttons === 0) return;
    const scale = this.view.width / this.svg.getBoundingClientRect().width;
    const others = [...this.fingers.values()].filter((finger) => finger.pointerId !== event.pointerId);
    this.moved += Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY);
    if (others.length === 1) {
      const [other] = others;
      const apart = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY);
      this.enlarge(apart(event) / Math.max(apart(before), 1), this.placeAt(other.clientX, other.clientY));
    } else {
      this.show({ ...this.view, x: this.view.x - (event.clientX - before.clientX) * scale, y: this.view.y - (event.clientY - before.clientY) * scale });
    }
    this.fingers.set(event.pointerId, event);
  }

  press(event) {
    const steps = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] };
    if (steps[event.key]) this.move(...steps[event.key]);
    else if (event.key === "+" || event.key === "=") this.enlarge(STEP);
    else if (event.key === "-") this.enlarge(1 / STEP);
    else if (event.key === "0") this.show(this.whole);
    else if (event.key === "Enter" && event.target === this.svg.parentElement) {
      const { x, y } = this.middle();
      const { west, north, metres } = this.frame;
      this.ask(this.projection.fromPlane(west + x * metres, north - y * metres));
    } else return;
    event.preventDefault();
  }
}

export function begin(tools) {
  const svg = document.querySelector("svg.chart[data-west]");
  tools.hidden = false;
  const chart = new Chart(svg, tools);
  svg.parentElement.setAttribute("aria-label", "Chart: arrow keys move it, plus and minus enlarge, Enter asks about its middle");
  document.addEventListener("chart-place", ({ detail }) => {
    tools.querySelector("[data-asked]").hidden = false;
    tools.querySelector("[data-heard]").href = `${tools.dataset.heard}?position=${encodeURIComponent(words(detail))}&altitude_ft=${tools.dataset.altitude}`;
    tools.querySelector("[name=point_lat]").value = minutes(detail.lat, "NS", 2);
    tools.querySelector("[name=point_lon]").value = minutes(detail.lon, "EW", 3);
  });
  return chart;
}
