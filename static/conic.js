// The Lambert conformal conic projection on WGS 84 with two standard parallels: EPSG method 9802, IOGP Guidance Note 7-2.
// Angles in degrees, plane in metres, as server/navigation/projection.py has them.

const WGS84 = { a: 6378137.0, eSquared: 0.00669437999014 };
const RAD = Math.PI / 180;

// A longitude from -180 up to 180.
export const folded = (deg) => ((((deg + 180) % 360) + 360) % 360) - 180;

// parallels and origin: {lat1, lat2, lat0, lon0}; the ellipsoid is WGS 84 on every chart
export function conic({ lat1, lat2, lat0, lon0 }, { a, eSquared } = WGS84) {
  const e = Math.sqrt(eSquared);
  const t = (phi) => Math.tan(Math.PI / 4 - phi / 2) / ((1 - e * Math.sin(phi)) / (1 + e * Math.sin(phi))) ** (e / 2);
  const m = (phi) => Math.cos(phi) / Math.sqrt(1 - (e * Math.sin(phi)) ** 2);
  const [phi1, phi2, phi0] = [lat1, lat2, lat0].map((deg) => deg * RAD);
  const n = Math.abs(phi1 - phi2) < 1e-9 ? Math.sin(phi1) : (Math.log(m(phi1)) - Math.log(m(phi2))) / (Math.log(t(phi1)) - Math.log(t(phi2)));
  const f = m(phi1) / (n * t(phi1) ** n);
  const radius = (phi) => a * f * t(phi) ** n;
  const r0 = radius(phi0);

  function toPlane(lat, lon) {
    const r = radius(lat * RAD);
    const theta = n * folded(lon - lon0) * RAD;
    return { x: r * Math.sin(theta), y: r0 - r * Math.cos(theta) };
  }

  function fromPlane(x, y) {
    const side = Math.sign(n);
    const r = side * Math.hypot(x, r0 - y);
    const theta = Math.atan2(side * x, side * (r0 - y));
    const tau = (r / (a * f)) ** (1 / n);
    let phi = Math.PI / 2 - 2 * Math.atan(tau);
    for (let step = 0; step < 12; step += 1) {
      const sine = e * Math.sin(phi);
      phi = Math.PI / 2 - 2 * Math.atan(tau * ((1 - sine) / (1 + sine)) ** (e / 2));
    }
    return { lat: phi / RAD, lon: folded(theta / n / RAD + lon0) };
  }

  return { toPlane, fromPlane };
}
