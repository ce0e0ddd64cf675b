// Changes of a route at the desk. Each takes a draft and returns another; none changes the one it was given.
// Stops are counted from 0, the departure; points lie between the departure and the destination.

const blank = { altitude_ft: null, changeover_nm: null, changeover_reason: "" };

// A point of a route from a place of the chart: {what: "beacon" | "airfield" | "checkpoint" | "position", id, lat, lon}.
export function pointAt(place, onward = blank) {
  if (place.what === "position") return { kind: "position", lat_deg: place.lat, lon_deg: place.lon, onward: { ...onward } };
  return { kind: place.what, place_id: place.id, onward: { ...onward } };
}

// A changeover was chosen for a leg that is no longer the same one, so it is not kept; a level is.
const without = (onward) => ({ ...blank, altitude_ft: onward?.altitude_ft ?? null });

export function insertAfter(draft, stop, place) {
  const points = draft.points.map((point, index) => (index === stop - 1 ? { ...point, onward: without(point.onward) } : point));
  points.splice(stop, 0, pointAt(place));
  return { ...draft, onward: stop === 0 ? { ...blank } : draft.onward, points };
}

export function removeStop(draft, stop) {
  const points = draft.points.filter((_, index) => index !== stop - 1);
  if (stop >= 2) points[stop - 2] = { ...points[stop - 2], onward: without(points[stop - 2].onward) };
  return { ...draft, onward: stop === 1 ? { ...blank } : draft.onward, points };
}

export function moveStop(draft, stop, by) {
  const [from, to] = [stop - 1, stop - 1 + by];
  if (to < 0 || to >= draft.points.length) return draft;
  const points = draft.points.map((point) => ({ ...point, onward: without(point.onward) }));
  [points[from], points[to]] = [points[to], points[from]];
  return { ...draft, onward: { ...blank }, points };
}

// The way back: the points turned round. Levels and changeovers were chosen for the other direction and are not kept.
export function reversed(draft) {
  return {
    ...draft,
    departure_id: draft.destination_id,
    destination_id: draft.departure_id,
    onward: { ...blank },
    points: draft.points.map((point) => ({ ...point, onward: { ...blank } })).reverse(),
  };
}

// Put another place where a stop is. An end can only be an airfield: then null.
export function replaceStop(draft, stop, place) {
  const isEnd = stop === 0 || stop === draft.points.length + 1;
  if (isEnd && place.what !== "airfield") return null;
  if (stop === 0) return { ...draft, departure_id: place.id, onward: { ...blank } };
  const points = draft.points.map((point, index) => {
    if (index === stop - 1) return pointAt(place, without(point.onward));
    return index === stop - 2 ? { ...point, onward: without(point.onward) } : point;
  });
  const onward = stop === 1 ? { ...blank } : draft.onward;
  return isEnd ? { ...draft, destination_id: place.id, onward, points } : { ...draft, onward, points };
}

// Fly at an altitude: the whole flight, or from the start of a leg (counted from 1) on.
export function atAltitude(draft, feet, leg = null) {
  if (leg === null || leg === 1) {
    const points = leg === null ? draft.points.map((point) => ({ ...point, onward: { ...point.onward, altitude_ft: null } })) : draft.points;
    return { ...draft, altitude_ft: feet, points };
  }
  const points = draft.points.map((point, index) => (index === leg - 2 ? { ...point, onward: { ...point.onward, altitude_ft: feet } } : point));
  return { ...draft, points };
}

// The altitude a leg (counted from 1) is to be flown at: the flight's, or what was chosen last on the way to it.
export function levelOf(draft, leg) {
  return draft.points.slice(0, leg - 1).reduce((feet, { onward }) => onward?.altitude_ft ?? feet, draft.altitude_ft);
}

// Whether a level was chosen for single legs.
export function hasLevels(draft) {
  return draft.points.some(({ onward }) => (onward?.altitude_ft ?? null) !== null);
}

const CHOICE = ["altitude_ft", "changeover_nm"];
const POINT = ["place_id", "lat_deg", "lon_deg", "beacon_id", "radial_deg", "distance_nm", "second_beacon_id", "second_radial_deg"];

// Whether two drafts are the same route, whatever their versions, and whether or not they name what is empty.
export function same(one, other) {
  const values = (from, names) => names.map((name) => from?.[name] ?? null);
  const choice = (onward) => [...values(onward, CHOICE), onward?.changeover_reason ?? ""];
  const told = (draft) => JSON.stringify([
    draft.departure_id, draft.destination_id, draft.altitude_ft ?? null, choice(draft.onward),
    draft.points.map((point) => [point.kind, point.name ?? "", ...values(point, POINT), ...choice(point.onward)]),
  ]);
  return Boolean(one && other) && told(one) === told(other);
}
