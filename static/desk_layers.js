// The layers of the desk: what is shown on the chart, and one layer of reception at a time, by pattern, edge and words.

import { LOOKS, band, keyItem } from "./layer_looks.js";

export class DeskLayers {
  constructor(root, chart, home, altitude) {
    Object.assign(this, { root, chart, home, altitude });
    this.layer = document.getElementById("desk-layer");
    this.list = document.getElementById("desk-beacon");
    for (const place of chart.places.filter(({ what }) => what === "beacon")) this.list.append(new Option(`${place.ident} ${place.kind} ${place.name}`, String(place.id)));
    for (const change of [this.layer, this.list]) change.addEventListener("change", () => this.show());
    root.querySelectorAll("[data-show]").forEach((box) => box.addEventListener("change", () => chart.setShown(box.dataset.show, box.checked)));
    this.fillSigns();
  }

  set beacon(id) {
    this.list.value = String(id);
    if (this.layer.value && this.layer.value !== "fixes") this.show();
  }

  altitudeChanged() {
    if (this.layer.value && this.shownAt !== this.altitude()) this.show();
  }

  address() {
    const at = `altitude_ft=${this.altitude()}`;
    const beacon = `${this.home}/beacons/${this.list.value}`;
    return {
      areas: `${beacon}/coverage.geojson?${at}&above=sea&show=areas`,
      lowest: `${beacon}/coverage.geojson?${at}&above=sea&show=lowest`,
      limits: `${beacon}/limits.geojson?${at}`,
      fixes: `${this.home}/fixes.geojson?${at}&above=sea`,
    }[this.layer.value];
  }

  async show() {
    const words = this.root.querySelector("[data-layer-words]");
    const key = this.root.querySelector("[data-layer-key]");
    const kind = this.layer.value;
    this.shownAt = this.altitude();
    key.innerHTML = "";
    const asked = (this.asked = kind ? this.address() : null);
    this.chart.setAreas(null);
    if (!kind) {
      words.textContent = "";
      return;
    }
    words.textContent = "Looking over the terrain …";
    try {
      const response = await fetch(asked, { headers: { Accept: "application/json" } });
      const told = (response.headers.get("Content-Type") ?? "").includes("json") ? await response.json() : null;
      if (asked !== this.asked) return;
      if (!response.ok || !told) {
        words.textContent = told?.trouble ?? "This cannot be shown: the beacon, the altitude or the region does not allow it.";
        return;
      }
      const look = this.look(kind);
      this.chart.setAreas(told, look);
      words.textContent = this.words(kind, told);
      this.fillKey(key, told, look);
    } catch {
      if (asked === this.asked) words.textContent = "No connection: the layer could not be fetched. Choose it again.";
    }
  }

  look(kind) {
    return ({ properties }) => (kind === "lowest" ? band(properties.received_from_above_ft) : LOOKS[properties.state ?? properties.class ?? properties.what] ?? LOOKS.unknown);
  }

  words(kind, told) {
    const feet = `${this.altitude().toLocaleString("en")} ft above sea level`;
    if (!told.features.length) return kind === "limits" ? "Nothing is published in figures for this beacon." : `Received nowhere at ${feet}.`;
    return { areas: `At ${feet}. Where there is no hatching it is not received, or nothing is published.`, lowest: "The lowest altitude above sea level at which it is received.", fixes: `VOR stations at ${feet}.`, limits: `At ${feet}.` }[kind];
  }

  fillKey(key, told, look) {
    const seen = new Set();
    for (const feature of told.features) {
      const { properties } = feature;
      const name = properties.state ?? properties.class ?? properties.words ?? `${properties.received_from_above_ft.toLocaleString("en")} to ${properties.received_from_to_ft.toLocaleString("en")} ft`;
      if (seen.has(name)) continue;
      seen.add(name);
      key.append(keyItem(look(feature), name));
    }
  }

  fillSigns() {
    const list = this.root.querySelector("[data-signs]");
    for (const [name, symbol] of Object.entries(this.chart.data.symbols)) {
      const item = document.createElement("li");
      item.innerHTML = `<svg viewBox="-18 -18 36 36" width="26" height="26" aria-hidden="true">${symbol}</svg> <span></span>`;
      item.querySelector("span").textContent = name;
      list.append(item);
    }
  }
}
