// The signs of the chart as one drawing over the tiles: graticule, lines of equal variation, elevation figures, symbols, roses and labels.
// It is drawn anew whenever the chart comes to rest; while it moves it is carried along.

const RANK = { VORTAC: 1, "VOR/DME": 1, VOR: 2, "NDB/DME": 3, NDB: 3, TACAN: 4, DME: 4, airfield: 5, checkpoint: 6 };
const MOST_SIGNS = 700;
const MOST_ROSES = 14;
const ROSE_RADIUS = 46;
const escape = (text) => String(text).replace(/[&<>"]/g, (sign) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[sign]);
const round = (value) => Math.round(value * 10) / 10;

// What is taken by labels already, in cells, so that asking is quick.
class Room {
  constructor(width, height) {
    this.size = { width, height };
    this.cells = new Map();
  }

  *cellsOf(box) {
    for (let x = Math.floor(box.left / 64); x <= Math.floor(box.right / 64); x += 1)
      for (let y = Math.floor(box.top / 64); y <= Math.floor(box.bottom / 64); y += 1) yield `${x} ${y}`;
  }

  free(box) {
    if (box.left < 0 || box.top < 0 || box.right > this.size.width || box.bottom > this.size.height) return false;
    for (const cell of this.cellsOf(box))
      for (const other of this.cells.get(cell) ?? [])
        if (other.left < box.right && box.left < other.right && other.top < box.bottom && box.top < other.bottom) return false;
    return true;
  }

  take(box) {
    for (const cell of this.cellsOf(box)) this.cells.set(cell, [...(this.cells.get(cell) ?? []), box]);
    return box;
  }

  // How much of a box is taken already, in square pixels.
  taken(box) {
    let area = 0;
    for (const cell of this.cellsOf(box))
      for (const other of this.cells.get(cell) ?? []) {
        const across = Math.min(box.right, other.right) - Math.max(box.left, other.left);
        const down = Math.min(box.bottom, other.bottom) - Math.max(box.top, other.top);
        if (across > 0 && down > 0) area += across * down;
      }
    return area;
  }

  // Beside a sign: the first of eight places that is free. One that must be shown takes the one with most room.
  place(x, y, width, height, gap, must) {
    const sides = [[1, -1], [1, 1], [-1, -1], [-1, 1], [1, 0], [-1, 0], [0, 1], [0, -1]];
    const boxes = sides.map(([across, down]) => {
      const left = across > 0 ? x + gap : across < 0 ? x - gap - width : x - width / 2;
      const top = down > 0 ? y + gap : down < 0 ? y - gap - height : y - height / 2;
      return { left, top, right: left + width, bottom: top + height };
    });
    const found = boxes.find((box) => this.free(box)) ?? (must ? boxes.reduce((best, box) => (this.taken(box) < this.taken(best) ? box : best)) : null);
    return found && this.take(found);
  }
}

function line(points, cls) {
  return points.length > 1 ? `<path class="${cls}" d="M${points.map(({ x, y }) => `${round(x)},${round(y)}`).join("L")}"/>` : "";
}

function labelOn(points, words, cls, size, room) {
  const inside = points.filter(({ x, y }) => x > 30 && y > 20 && x < size.width - 30 && y < size.height - 20);
  for (const share of [0.5, 0.25, 0.75, 0.1, 0.9]) {
    const at = inside[Math.floor(inside.length * share)];
    if (!at) continue;
    const box = { left: at.x - words.length * 3.6, right: at.x + words.length * 3.6, top: at.y - 8, bottom: at.y + 6 };
    if (!room.free(box)) continue;
    room.take(box);
    return `<text class="halo ${cls}" x="${round(at.x)}" y="${round(at.y + 4)}">${escape(words)}</text>`;
  }
  return "";
}

// Number, track and distance beside the middle of a leg.
function legLabel(leg, at, room) {
  const [first, last] = [leg.line[0], leg.line.at(-1)].map(([lat, lon]) => at(lat, lon));
  const spots = [0.5, 0.4, 0.6, 0.3, 0.7].map((share) => ({ x: first.x + (last.x - first.x) * share, y: first.y + (last.y - first.y) * share }));
  for (const words of [`${leg.number}: ${leg.label}`, String(leg.number)])
    for (const spot of spots) {
      const box = room.place(spot.x, spot.y, words.length * 7.5 + 6, 16, 9, false);
      if (box) return `<text class="halo leg-words" x="${round(box.left + 3)}" y="${round(box.top + 12)}">${escape(words)}</text>`;
    }
  return "";
}

// A line as squares that labels keep away from.
function takeLine(points, room) {
  points.slice(1).forEach((end, index) => {
    const start = points[index];
    const steps = Math.min(200, Math.ceil(Math.hypot(end.x - start.x, end.y - start.y) / 9));
    for (let k = 0; k <= steps; k += 1) {
      const [x, y] = [start.x + ((end.x - start.x) * k) / steps, start.y + ((end.y - start.y) * k) / steps];
      room.take({ left: x - 5, right: x + 5, top: y - 5, bottom: y + 5 });
    }
  });
}

function edgeLabel(points, words, size, room) {
  const first = points.find(({ x, y }) => x >= 2 && y >= 12 && x <= size.width - 40 && y <= size.height - 4);
  if (!first) return "";
  const at = { x: Math.max(first.x + 3, 3), y: Math.min(first.y - 3, size.height - 5) };
  const box = { left: at.x, right: at.x + words.length * 6, top: at.y - 10, bottom: at.y + 2 };
  return room.free(box) ? (room.take(box), `<text class="halo graticule-words" x="${round(at.x)}" y="${round(at.y)}">${escape(words)}</text>`) : "";
}

function between(places, steps) {
  return places.slice(1).flatMap(([lat, lon], index) => {
    const [lat0, lon0] = places[index];
    return Array.from({ length: steps }, (_, k) => [lat0 + ((lat - lat0) * (k + 1)) / steps, lon0 + ((lon - lon0) * (k + 1)) / steps]);
  });
}

function rose(x, y, beacon) {
  const parts = [];
  for (let mark = 0; mark < 360; mark += 10) {
    const turn = ((mark + beacon.zero_grid_deg) * Math.PI) / 180;
    const [sin, cos] = [Math.sin(turn), -Math.cos(turn)];
    const inner = ROSE_RADIUS - (mark % 30 ? 4 : 7);
    parts.push(`M${round(x + ROSE_RADIUS * sin)},${round(y + ROSE_RADIUS * cos)}L${round(x + inner * sin)},${round(y + inner * cos)}`);
    if (mark === 0) parts.push(`M${round(x + (ROSE_RADIUS + 9) * sin)},${round(y + (ROSE_RADIUS + 9) * cos)}L${round(x + ROSE_RADIUS * sin)},${round(y + ROSE_RADIUS * cos)}`);
  }
  const figures = [0, 90, 180, 270].map((mark) => {
    const turn = ((mark + beacon.zero_grid_deg) * Math.PI) / 180;
    const radius = ROSE_RADIUS - 14;
    return `<text x="${round(x + radius * Math.sin(turn))}" y="${round(y - radius * Math.cos(turn) + 3)}">${String(mark || 360).padStart(3, "0")}</text>`;
  });
  const top = (beacon.zero_grid_deg * Math.PI) / 180;
  const north = `<text class="halo" x="${round(x + (ROSE_RADIUS + 16) * Math.sin(top))}" y="${round(y - (ROSE_RADIUS + 16) * Math.cos(top) + 3)}">${escape(beacon.north)}</text>`;
  return `<g class="rose"><circle cx="${round(x)}" cy="${round(y)}" r="${ROSE_RADIUS}"/><path d="${parts.join("")}"/>${figures.join("")}${north}</g>`;
}

// The fullest label there is room for: a beacon goes down to its ident before it goes without.
function label(place, sign, room, must, close) {
  const full = place.what === "beacon" ? [place.ident, place.tune, ...(must || close ? [place.morse] : [])] : [place.ident || place.name];
  if (place.what === "airfield" && close && place.name) full.push(place.name.slice(0, 24));
  const size = (lines) => [Math.max(...lines.map((text, index) => text.length * (index === 0 ? 8.4 : 6.9))) + 8, lines.length * 13 + 4];
  let lines = full;
  let box = room.place(sign.x, sign.y, ...size(full), 12, must);
  if (!box && place.what === "beacon") {
    lines = [place.ident];
    box = room.place(sign.x, sign.y, ...size(lines), 10, false);
  }
  if (!box) return "";
  const [width] = size(lines);
  const rows = lines.map((text, index) => `<tspan x="${round(box.left + 4)}" dy="${index ? 13 : 0}"${index === 0 ? ' class="ident"' : ""}>${escape(text)}</tspan>`);
  const back = place.what === "beacon" ? `<rect class="label-back${must ? " of-route" : ""}" x="${round(box.left)}" y="${round(box.top)}" width="${round(width)}" height="${lines.length * 13 + 4}"/>` : "";
  return `${back}<text class="${place.what === "beacon" ? "beacon-words" : "halo place-words"}${place.off ? " off" : ""}" x="${round(box.left + 4)}" y="${round(box.top + 12)}">${rows.join("")}</text>`;
}

// view: {width, height, at(lat, lon) -> {x, y}, pixelsPerNm, shown: Set of what is shown, ofRoute: Set of "beacon 3", legs of the answer}
export function drawSigns(data, places, view) {
  const room = new Room(view.width, view.height);
  const on = (key) => view.shown.has(key);
  const seen = ({ x, y }, room = 20) => x > -room && y > -room && x < view.width + room && y < view.height + room;
  const parts = [];
  const along = (spots) => spots.map(([lat, lon]) => view.at(lat, lon));
  if (on("graticule"))
    for (const each of data.lines.graticule) parts.push(line(along(each.places), "graticule"));
  if (on("variation"))
    for (const each of data.lines.variation) parts.push(line(along(each.places), "equal-variation"));

  const signs = places
    .filter((place) => place.what === "beacon" || on("places") || view.ofRoute.has(`${place.what} ${place.id}`))
    .map((place) => ({ place, must: view.ofRoute.has(`${place.what} ${place.id}`), ...view.at(place.lat, place.lon) }))
    .filter((sign) => seen(sign))
    .sort((a, b) => b.must - a.must || RANK[a.place.kind ?? a.place.what] - RANK[b.place.kind ?? b.place.what]);
  const shown = signs.slice(0, MOST_SIGNS);
  for (const { x, y } of shown) room.take({ left: x - 9, right: x + 9, top: y - 9, bottom: y + 9 });
  for (const leg of view.legs) takeLine(along(leg.line).filter((point) => seen(point, 400)), room);
  const legWords = view.legs.filter(({ line: [first], line }) => seen(view.at(...first)) || seen(view.at(...line.at(-1)))).map((leg) => legLabel(leg, view.at, room));
  const dots = signs.slice(MOST_SIGNS).map(({ x, y }) => `M${round(x)},${round(y)}h0`).join("");
  if (dots) parts.push(`<path class="dots" d="${dots}"/>`);

  if (on("highest") && view.pixelsPerNm > 2)
    for (const { words, lat_deg, lon_deg } of data.lines.quadrangles) {
      const at = view.at(lat_deg, lon_deg);
      const [thousands, hundreds] = [words.slice(0, -1) || "0", words.slice(-1)];
      if (seen(at)) parts.push(`<text class="highest" x="${round(at.x)}" y="${round(at.y)}">${thousands}<tspan class="hundreds" dy="-8">${hundreds}</tspan></text>`);
    }
  if (on("roses")) {
    const stations = shown.filter(({ place, must }) => place.what === "beacon" && place.zero_grid_deg !== null && (must || view.pixelsPerNm > 6));
    for (const { place, x, y } of stations.slice(0, MOST_ROSES)) parts.push(rose(x, y, place));
  }
  const labels = shown.map((sign) => label(sign.place, sign, room, sign.must, view.pixelsPerNm > 9));
  const scale = view.pixelsPerNm > 3 ? 0.85 : view.pixelsPerNm > 0.7 ? 0.62 : 0.34;
  for (const { place, x, y } of shown) {
    const name = place.what === "beacon" ? place.kind : place.what === "airfield" && place.off ? "closed airfield" : place.what;
    parts.push(`<g class="sign${place.off ? " off" : ""}" transform="translate(${round(x)} ${round(y)}) scale(${scale})">${data.symbols[name]}</g>`);
  }
  parts.push(...labels, ...legWords);
  if (on("spots") && view.pixelsPerNm > 2)
    for (const { words, lat_deg, lon_deg } of data.lines.spots) {
      const at = view.at(lat_deg, lon_deg);
      const box = { left: at.x - 4, right: at.x + 8 + words.length * 6, top: at.y - 7, bottom: at.y + 7 };
      if (seen(at) && room.free(box)) {
        room.take(box);
        parts.push(`<circle class="spot" cx="${round(at.x)}" cy="${round(at.y)}" r="1.8"/><text class="halo spot-words" x="${round(at.x + 5)}" y="${round(at.y + 4)}">${escape(words)}</text>`);
      }
    }
  if (on("graticule"))
    for (const each of data.lines.graticule) parts.push(edgeLabel(along(between(each.places, 12)), each.words, view, room));
  if (on("variation"))
    for (const each of data.lines.variation) parts.push(labelOn(along(each.places), each.words, "variation-words", view, room));
  return parts.join("");
}
