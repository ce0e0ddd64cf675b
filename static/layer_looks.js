// How areas on the chart look, and a sample of each for the key. Every look has a pattern or an edge of its own, so none needs its colour.

export const LOOKS = {
  received: { color: "#38536b", weight: 2.2, fillColor: "url(#layer-received)", fillOpacity: 1 },
  marginal: { color: "#8f3f2b", weight: 1.4, dashArray: "7 4", fillColor: "url(#layer-marginal)", fillOpacity: 1 },
  unknown: { color: "#6a6158", weight: 1.2, dashArray: "9 4 2 4", fillColor: "url(#layer-unknown)", fillOpacity: 1 },
  "not promised": { color: "#6a6158", weight: 1, dashArray: "2 4", fillColor: "url(#layer-not-promised)", fillOpacity: 1 },
  published: { color: "#2b2622", weight: 2, dashArray: "2 5", fill: false },
  unusable: { color: "#8f3f2b", weight: 1.6, fillColor: "url(#layer-unusable)", fillOpacity: 1 },
  "same channel": { color: "#8f3f2b", weight: 1.6, dashArray: "10 4 2 4 2 4", fill: false },
  "no beacon": { color: "#8f3f2b", weight: 1, fillColor: "url(#layer-unusable)", fillOpacity: 1 },
  "one beacon, no fix": { color: "#8f3f2b", weight: 1, fillColor: "url(#layer-marginal)", fillOpacity: 1 },
  "two or more, no fix": { color: "#6a6158", weight: 1, fillColor: "url(#layer-unknown)", fillOpacity: 1 },
  "a fix": { color: "#38536b", weight: 1.6, fillColor: "url(#layer-received)", fillOpacity: 1 },
};

// Lowest altitudes: the higher, the darker, so that the step is seen in grey too. [ft]
export const band = (fromFt) => ({ color: "#38536b", weight: 0.8, fillColor: "#38536b", fillOpacity: Math.min(0.06 + fromFt / 30000, 0.62) });

// An entry of a key: a sample and its words.
export function keyItem({ color, weight, dashArray = "", fillColor, fillOpacity = 1, fill = true }, words) {
  const item = document.createElement("li");
  item.innerHTML = `<svg viewBox="0 0 40 18" width="40" height="18" aria-hidden="true"><rect x="2" y="2" width="36" height="14" stroke="${color}" stroke-width="${weight}" stroke-dasharray="${dashArray}" fill="${fill ? fillColor : "none"}" fill-opacity="${fillOpacity}"/></svg> <span></span>`;
  item.querySelector("span").textContent = words;
  return item;
}
