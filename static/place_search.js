// Finding a place by what was typed: its words in the list, its ident or name where that means one place, or a position.

// Words of a place as the list of the search box has them.
export function wordsOf(place) {
  if (place.what === "beacon") return `${place.ident} ${place.kind} ${place.tune} ${place.name}`;
  return [place.ident, place.name].filter(Boolean).join(" ");
}

// An angle of degrees, or degrees and minutes, with its letter; NaN where it is none.
function angle(degrees, minutes, letter) {
  const [whole, part] = [Number(degrees), minutes === undefined ? 0 : Number(minutes)];
  if (part >= 60 || (minutes !== undefined && !Number.isInteger(whole))) return NaN;
  return (whole + part / 60) * (/[sw]/i.test(letter) ? -1 : 1);
}

function position(text) {
  const plain = text.match(/^\s*(-?\d+(?:\.\d+)?)[,\s]+(-?\d+(?:\.\d+)?)\s*$/);
  if (plain) return Math.abs(plain[1]) <= 90 && Math.abs(plain[2]) <= 180 ? { what: "position", lat: Number(plain[1]), lon: Number(plain[2]) } : null;
  const close = text.match(/^\s*(\d{2})(\d{2}(?:\.\d+)?)\s*([NS])[,\s]*(\d{3})(\d{2}(?:\.\d+)?)\s*([EW])\s*$/i);
  const angles = close ?? text.match(/^\s*(\d+(?:\.\d+)?)[°\s]*(\d+(?:\.\d+)?)?['′\s]*([NS])[,\s]+(\d+(?:\.\d+)?)[°\s]*(\d+(?:\.\d+)?)?['′\s]*([EW])\s*$/i);
  if (!angles) return null;
  const [lat, lon] = [angle(...angles.slice(1, 4)), angle(...angles.slice(4, 7))];
  return Math.abs(lat) <= 90 && Math.abs(lon) <= 180 ? { what: "position", lat, lon } : null;
}

// Return {place}, or {trouble} in words.
export function findPlace(text, places, byWords) {
  const typed = text.trim();
  const quoted = typed.length > 40 ? `${typed.slice(0, 40)}…` : typed;
  if (!typed) return { trouble: "Type an ident, a name or a position." };
  const exact = byWords.get(typed);
  if (exact) return { place: exact };
  const named = places.filter(({ ident, name }) => [ident, name].some((each) => each?.toLowerCase() === typed.toLowerCase()));
  if (named.length === 1) return { place: named[0] };
  if (named.length > 1) return { trouble: `${named.length} places go by the name ${quoted}: ${named.slice(0, 4).map(wordsOf).join("; ")}. Write one of them in full.` };
  const at = position(typed);
  return at ? { place: at } : { trouble: `Nothing here goes by “${quoted}”. Type an ident, a name, or a position such as 43 12.5 N 036 40.2 W.` };
}
