// The chart of the desk: the region's own conic projection under the map library, the server's relief as tiles, signs, layers, and the
// route, which can be taken hold of anywhere. Tells what the person does by events; changes nothing by itself.

import { conic, folded } from "./conic.js";
import { drawSigns } from "./chart_signs.js";

const SNAP_PX = 18;
const NM = 1852;
const PATTERNS = {
  received: { color: "#2b2622", weight: 3.4 },
  marginal: { color: "#8f3f2b", weight: 3.4, dashArray: "13 5" },
  unknown: { color: "#6a6158", weight: 3.4, dashArray: "14 5 2 5" },
  "not-promised": { color: "#6a6158", weight: 5, dashArray: "2 6" },
  "not-received": { color: "#8f3f2b", weight: 5, dashArray: "0.1 9", lineCap: "round" },
};

// Longitudes on the turn of the middle of the region.
const turned = (lon, { lon0 }) => lon0 + folded(lon - lon0);

function regionCrs(L, data) {
  const plane = conic(data.projection);
  return L.Util.extend({}, L.CRS, {
    code: "region",
    infinite: true,
    projection: {
      bounds: null,
      project: ({ lat, lng }) => {
        const { x, y } = plane.toPlane(Math.max(-89.9, Math.min(89.9, lat)), lng);
        return new L.Point(x, y);
      },
      unproject: ({ x, y }) => {
        const { lat, lon } = plane.fromPlane(x, y);
        return new L.LatLng(lat, turned(lon, data.projection));
      },
    },
    transformation: new L.Transformation(1, 0, -1, 0),
    scale: (zoom) => 2 ** zoom / data.metres,
    zoom: (scale) => Math.log2(scale * data.metres),
    distance: (one, other) => L.CRS.Earth.distance(one, other),
  });
}

// Tiles of the region's box alone. The box is bent on the plane, so it is its rectangle there that decides.
function regionTiles(L, data) {
  const { south, north, west, east } = data.box;
  const plane = conic(data.projection);
  const edge = Array.from({ length: 25 }, (_, k) => k / 24);
  const rim = edge.flatMap((share) => {
    const [lat, lon] = [south + (north - south) * share, west + (east - west) * share];
    return [plane.toPlane(lat, west), plane.toPlane(lat, east), plane.toPlane(south, lon), plane.toPlane(north, lon)];
  });
  const [xs, ys] = [rim.map(({ x }) => x), rim.map(({ y }) => y)];
  const box = { west: Math.min(...xs), east: Math.max(...xs), south: Math.min(...ys), north: Math.max(...ys) };
  return L.TileLayer.extend({
    _isValidTile({ x, y, z }) {
      const metres = (data.metres / 2 ** z) * this.options.tileSize;
      return x * metres < box.east && (x + 1) * metres > box.west && -(y + 1) * metres < box.north && -y * metres > box.south;
    },
  });
}

export class DeskChart extends EventTarget {
  constructor(element, data) {
    super();
    const { L } = window;
    this.L = L;
    this.data = data;
    const named = (list, what) => list.map((place) => ({ ...place, what }));
    this.places = [...named(data.beacons, "beacon"), ...named(data.airfields, "airfield"), ...named(data.checkpoints, "checkpoint")];
    this.shown = new Set(["relief", "graticule", "variation", "highest", "spots", "roses", "places"]);
    this.ofRoute = new Set();
    this.map = L.map(element, {
      crs: regionCrs(L, data), minZoom: data.widest, maxZoom: data.closest + 1, zoomSnap: 0.25, zoomDelta: 0.5, wheelPxPerZoomLevel: 110,
      attributionControl: false, keyboardPanDelta: 60, worldCopyJump: false,
    });
    // A region without ground has no tiles.
    this.tiles = !data.tiles ? L.layerGroup() : new (regionTiles(L, data))(data.tiles, { minNativeZoom: data.widest, maxNativeZoom: data.closest, minZoom: data.widest, maxZoom: data.closest + 1, tileSize: 256, detectRetina: true, keepBuffer: 1 });
    // Between whole zooms the browser would show hair lines between tiles, so each reaches a little over its edge.
    this.tiles.on("tileload", ({ tile }) => ["width", "height"].forEach((side) => { tile.style[side] = `${parseFloat(tile.style[side]) + 0.7}px`; }));
    this.tiles.addTo(this.map);
    for (const [name, index] of [["area", 410], ["signs", 420], ["route", 440], ["mark", 460]]) this.map.createPane(name).style.zIndex = index;
    this.map.getPane("signs").style.pointerEvents = "none";
    const pane = (name) => ({ pane: name, renderer: L.svg({ pane: name, padding: 0.5 }) });
    this.inPane = { area: pane("area"), route: pane("route"), mark: pane("mark") };
    this.area = L.layerGroup().addTo(this.map);
    this.route = L.layerGroup().addTo(this.map);
    this.grips = L.layerGroup().addTo(this.map);
    this.marks = L.layerGroup().addTo(this.map);
    this.signs = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    this.signs.setAttribute("class", "chart-signs leaflet-zoom-hide");
    this.signs.setAttribute("aria-hidden", "true");
    this.map.getPane("signs").append(this.signs);
    this.scaleBar = document.createElement("div");
    this.scaleBar.className = "scale-nm";
    element.append(this.scaleBar);
    this.map.on("moveend zoomend resize", () => this.draw());
    this.map.on("click", ({ latlng, containerPoint }) => this.asked(latlng, containerPoint));
    this.listenForWheel();
    element.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.target !== element) return;
      event.preventDefault();
      const middle = this.map.getSize().divideBy(2);
      this.asked(this.map.containerPointToLatLng(middle), middle);
    });
    this.showWhole();
  }

  // The wheel moves the page, as everywhere; with Ctrl or when the chart is in focus it enlarges the chart.
  listenForWheel() {
    const { map } = this;
    const element = map.getContainer();
    map.scrollWheelZoom.disable();
    element.addEventListener("wheel", (event) => {
      if (event.ctrlKey || document.activeElement === element) map.scrollWheelZoom.enable();
      else map.scrollWheelZoom.disable();
    }, { capture: true, passive: true });
  }

  bounds(room = 0) {
    const { south, north, west, east } = this.data.box;
    return this.L.latLngBounds([south - room, this.near(west) - room], [north + room, this.near(east) + room]);
  }

  // The whole region; of one that is strewn over half the earth, the place where most of it is.
  showWhole() {
    const { west, east } = this.data.box;
    if (east - west <= 60 || !this.places.length) {
      this.map.fitBounds(this.bounds(), { animate: false });
      return;
    }
    const middle = (numbers) => numbers.sort((a, b) => a - b)[Math.floor(numbers.length / 2)];
    this.map.setView([middle(this.places.map(({ lat }) => lat)), middle(this.places.map(({ lon }) => this.near(lon)))], 0, { animate: false });
  }

  fit(stops) {
    if (stops.length > 1) this.map.fitBounds(this.L.latLngBounds(stops.map(({ lat, lon }) => [lat, this.near(lon)])).pad(0.18), { animate: false, maxZoom: 6 });
  }

  show({ lat, lon }) {
    this.map.setView([lat, this.near(lon)], Math.max(this.map.getZoom(), 4), { animate: false });
  }

  near(lon) {
    return turned(lon, this.data.projection);
  }

  line(places) {
    return places.map(([lat, lon]) => [lat, this.near(lon)]);
  }

  draw() {
    const { map, L } = this;
    const size = map.getSize();
    const pixelsPerNm = (NM * 2 ** map.getZoom()) / this.data.metres;
    const origin = map.containerPointToLayerPoint([0, 0]);
    this.signs.setAttribute("width", size.x);
    this.signs.setAttribute("height", size.y);
    L.DomUtil.setPosition(this.signs, origin);
    const at = (lat, lon) => map.latLngToContainerPoint([lat, this.near(lon)]);
    const legs = this.answer?.legs ?? [];
    this.signs.innerHTML = drawSigns(this.data, this.places, { width: size.x, height: size.y, at, pixelsPerNm, shown: this.shown, ofRoute: this.ofRoute, legs });
    this.drawScale(size);
  }

  // The scale of a conic changes with latitude, so the bar is measured on the ground where it stands.
  drawScale(size) {
    const [left, right] = [[20, size.y - 20], [220, size.y - 20]].map((point) => this.map.containerPointToLatLng(point));
    const nm = this.L.CRS.Earth.distance(left, right) / NM;
    const length = [200, 100, 50, 20, 10, 5, 2, 1, 0.5].find((each) => each <= nm * 0.75) ?? 0.5;
    this.scaleBar.style.width = `${(200 * length) / nm}px`;
    this.scaleBar.textContent = `${length} NM`;
  }

  setShown(key, yes) {
    if (yes) this.shown.add(key);
    else this.shown.delete(key);
    if (key === "relief") this.map[yes ? "addLayer" : "removeLayer"](this.tiles);
    this.draw();
  }

  // The places of the region near a point of the window, the nearest first; of two in one spot the beacon.
  placesNear(point) {
    return this.places
      .filter((place) => place.what === "beacon" || this.shown.has("places"))
      .map((place) => ({ place, away: this.map.latLngToContainerPoint([place.lat, this.near(place.lon)]).distanceTo(point) }))
      .filter(({ away }) => away <= SNAP_PX)
      .sort((one, other) => one.away - other.away + (one.place.what === "beacon" ? -1 : 0) - (other.place.what === "beacon" ? -1 : 0))
      .map(({ place }) => place);
  }

  // The nearest of them, or the bare position.
  placeNear(latlng, point) {
    return this.placesNear(point)[0] ?? { what: "position", lat: latlng.lat, lon: folded(latlng.lng) };
  }

  asked(latlng, point) {
    if (Date.now() - (this.letGo ?? 0) < 300) return;
    const lon = folded(latlng.lng);
    this.tell("place-asked", { place: this.placeNear(latlng, point), others: this.placesNear(point).slice(1, 6), lat: latlng.lat, lon });
  }

  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  setRoute(answer, places) {
    this.ofRoute = places;
    this.answer = answer;
    this.drawLegs();
    if (!this.holding) this.drawGrips();
    this.draw();
  }

  drawLegs() {
    const { L, answer } = this;
    this.route.clearLayers();
    if (!answer) return;
    const add = (places, style) => L.polyline(this.line(places), { ...this.inPane.route, interactive: false, ...style }).addTo(this.route);
    for (const leg of answer.legs) {
      add(leg.line, { color: "#f7f2e6", weight: 8, opacity: 0.85 });
      if (!leg.stretches.length) add(leg.line, { color: "#2b2622", weight: 1.2 });
      for (const { state, line } of leg.stretches) add(line, PATTERNS[state]);
      if (leg.changeover) L.circleMarker([leg.changeover[0], this.near(leg.changeover[1])], { ...this.inPane.route, interactive: false, radius: 5, color: "#2b2622", weight: 2, fillColor: "#f7f2e6", fillOpacity: 1 }).addTo(this.route);
    }
  }

  // Wide lines nobody sees, and discs on the stops: what the pointer takes hold of.
  drawGrips() {
    const { L, answer } = this;
    this.grips.clearLayers();
    if (!answer) return;
    answer.legs.forEach((leg) => {
      const grip = L.polyline(this.line(leg.line), { ...this.inPane.route, weight: 24, opacity: 0, className: "grip leg-grip", bubblingMouseEvents: true }).addTo(this.grips);
      const element = grip.getElement();
      element?.setAttribute("data-grip", `leg ${leg.number}`);
      element?.addEventListener("pointerdown", (event) => this.hold(event, { leg: leg.number }));
      element?.addEventListener("pointermove", (event) => this.tell("over-leg", { leg: leg.number, share: this.shareOf(leg, event) }));
    });
    answer.stops.forEach((stop, index) => {
      if (stop.fixed) return;
      const grip = L.circleMarker([stop.lat, this.near(stop.lon)], { ...this.inPane.route, radius: 13, opacity: 0, fillOpacity: 0, className: "grip stop-grip", bubblingMouseEvents: true }).addTo(this.grips);
      const element = grip.getElement();
      element?.setAttribute("data-grip", `stop ${index}`);
      element?.addEventListener("pointerdown", (event) => this.hold(event, { stop: index }));
    });
  }

  // How far along a leg the pointer is, 0 to 1.
  shareOf({ line }, event) {
    const [start, end] = [line[0], line.at(-1)].map(([lat, lon]) => this.map.latLngToContainerPoint([lat, this.near(lon)]));
    const along = end.subtract(start);
    const at = this.map.mouseEventToContainerPoint(event).subtract(start);
    return Math.min(Math.max((at.x * along.x + at.y * along.y) / (along.x ** 2 + along.y ** 2 || 1), 0), 1);
  }

  // A leg or a stop follows the pointer until it is let go. The chart stands still meanwhile.
  hold(event, what) {
    if (event.button !== 0 || this.holding || this.still) return;
    event.stopPropagation();
    this.map.dragging.disable();
    const start = { x: event.clientX, y: event.clientY };
    this.holding = { ...what, moved: false };
    this.tell("held", true);
    const move = (at) => {
      if (at.pointerId !== event.pointerId) return;
      if (!this.holding.moved && Math.hypot(at.clientX - start.x, at.clientY - start.y) < 5) return;
      this.holding.moved = true;
      at.preventDefault();
      this.holding.place = this.placeUnder(at, what);
      this.drawHolding();
      this.tell(what.own ? "place-held" : "route-held", { ...what, place: this.holding.place });
    };
    const end = (at) => {
      if (at.pointerId !== event.pointerId) return;
      this.stopHolding = null;
      for (const [name, listener] of listeners) window.removeEventListener(name, listener);
      this.map.dragging.enable();
      const { moved, place } = this.holding;
      this.holding = null;
      this.tell("held", false);
      this.marks.clearLayers();
      if (moved) this.letGo = Date.now();
      if (moved && place && at.type === "pointerup") this.tell(what.own ? "place-let-go" : "route-let-go", { ...what, place });
      else if (moved && !what.own) this.tell("route-left", what);
      if (!what.own) this.drawGrips();
    };
    const escape = (key) => {
      if (key.key === "Escape") end({ pointerId: event.pointerId, type: "escape" });
    };
    const listeners = [["pointermove", move], ["pointerup", end], ["pointercancel", end], ["keydown", escape]];
    for (const [name, listener] of listeners) window.addEventListener(name, listener, { passive: false });
  }

  // What is under the pointer: a place of the region for a route, the bare position for a place that is being moved.
  placeUnder(event, { own }) {
    const latlng = this.map.mouseEventToLatLng(event);
    if (own) return { what: "position", lat: latlng.lat, lon: folded(latlng.lng) };
    return this.placeNear(latlng, this.map.mouseEventToContainerPoint(event));
  }

  // Let one place of the region be taken hold of.
  holdPlace(place) {
    this.grips.clearLayers();
    const grip = this.L.circleMarker([place.lat, this.near(place.lon)], { ...this.inPane.route, radius: 15, opacity: 0, fillOpacity: 0, className: "grip place-grip", bubblingMouseEvents: true }).addTo(this.grips);
    grip.getElement()?.setAttribute("data-grip", "place");
    grip.getElement()?.addEventListener("pointerdown", (event) => this.hold(event, { own: place }));
  }

  // Show a place elsewhere than it is kept.
  movePlace(place, { lat, lon }) {
    this.marks.clearLayers();
    if (lat !== place.lat || lon !== place.lon) {
      const [from, to] = [place, { lat, lon }].map((each) => [each.lat, this.near(each.lon)]);
      this.L.polyline([from, to], { ...this.inPane.mark, color: "#8f3f2b", weight: 2, dashArray: "3 5", interactive: false }).addTo(this.marks);
      this.L.circleMarker(to, { ...this.inPane.mark, radius: 9, color: "#8f3f2b", weight: 2.5, fillColor: "#f7f2e6", fillOpacity: 1, interactive: false, className: "moved-mark" }).addTo(this.marks);
    }
    this.holdPlace({ ...place, lat, lon });
  }

  drawHolding() {
    const { L, answer, holding } = this;
    this.marks.clearLayers();
    const { place } = holding;
    const at = [place.lat, this.near(place.lon)];
    const stops = holding.own ? [] : answer.stops.map(({ lat, lon }) => [lat, this.near(lon)]);
    const ends = holding.own ? [[holding.own.lat, this.near(holding.own.lon)]] : holding.leg ? [stops[holding.leg - 1], stops[holding.leg]] : [stops[holding.stop - 1], stops[holding.stop + 1]];
    for (const end of ends.filter(Boolean)) L.polyline([end, at], { ...this.inPane.mark, color: "#38536b", weight: 2.5, dashArray: "3 5", interactive: false }).addTo(this.marks);
    L.circleMarker(at, { ...this.inPane.mark, radius: place.what === "position" ? 6 : 16, color: "#8f3f2b", weight: 2.5, fill: false, interactive: false }).addTo(this.marks);
  }

  // A place on the route, told by the section.
  markPlace(lat, lon) {
    this.marks.clearLayers();
    if (lat === null) return;
    this.L.circleMarker([lat, this.near(lon)], { ...this.inPane.mark, radius: 7, color: "#8f3f2b", weight: 3, fillColor: "#f7f2e6", fillOpacity: 1, interactive: false, className: "section-mark" }).addTo(this.marks);
  }

  // The lines of a fix and the ellipse that holds the aircraft.
  drawFix({ lines, ellipse }) {
    this.fixLayer ??= this.L.layerGroup().addTo(this.map);
    this.fixLayer.clearLayers();
    for (const line of lines) this.L.polyline(this.line(line), { ...this.inPane.area, color: "#38536b", weight: 1.4, dashArray: "8 4", interactive: false }).addTo(this.fixLayer);
    if (ellipse.length) this.L.polygon(this.line(ellipse), { ...this.inPane.area, color: "#38536b", weight: 1.6, fillColor: "#38536b", fillOpacity: 0.12, interactive: false, className: "fix-ellipse" }).addTo(this.fixLayer);
  }

  drawAsked(place) {
    this.askedLayer ??= this.L.layerGroup().addTo(this.map);
    this.askedLayer.clearLayers();
    if (place) this.L.circleMarker([place.lat, this.near(place.lon)], { ...this.inPane.mark, radius: 12, color: "#8f3f2b", weight: 2, fill: false, interactive: false, className: "asked-mark" }).addTo(this.askedLayer);
  }

  // A layer of areas: GeoJSON, and how each feature looks.
  setAreas(collection, look) {
    this.area.clearLayers();
    if (!collection) return;
    const { L } = this;
    const turned = ([lon, lat]) => L.latLng(lat, this.near(lon));
    L.geoJSON(collection, { ...this.inPane.area, interactive: false, coordsToLatLng: turned, style: look, pointToLayer: (feature, latlng) => L.marker(latlng, { icon: L.divIcon({ className: "area-words", html: "", iconSize: null }), interactive: false, keyboard: false }) }).addTo(this.area);
  }
}
