// Values and places: how a field of the record follows what is grabbed, and what is drawn beside the antenna.
export const TRUE = 96 / 25.4; // CSS pixels in a millimetre
const LEVEL = 20; // pixels from an edge to its dimension line
const LETTER = 6.6; // pixels of a digit of a dimension
const SHORT = 60; // pixels of a slot whose ends are picked a little outside of it
const OUTSIDE = 8; // by so many pixels

const round = (value) => Math.round(value * 1e6) / 1e6;

export const words = (value) => `${round(value)}`;
export const snapped = (value, step) => round(Math.round(value / step) * step);
export const limited = (value, { lowest, highest }) => Math.max(lowest, Math.min(highest, value));

// Where a value of a move lies on its axis, and the value at a place on it; see Move in elements.py.
export function place({ scale, radius }, value) {
  return scale * (radius ? radius * Math.sin(value / radius) : value);
}
export function valueAt({ scale, radius }, at) {
  const straight = at / scale;
  return radius ? radius * Math.asin(Math.max(-1, Math.min(1, straight / radius))) : straight;
}

export const lettersFit = (text, room, scale) => room * scale > LETTER * text.length;

// A dimension: extension lines, the line with a stroke at either end, and where its number goes.
export function dimensionLines({ axis, low, high, edge, side, level, text }, scale) {
  const at = edge + (side * level * LEVEL) / scale, stroke = 4 / scale;
  const point = (along, across) => (axis === "u" ? `${along} ${across}` : `${across} ${along}`);
  const ends = [low, high].map((end) =>
    `M${point(end, edge + (side * 3) / scale)}L${point(end, at + side * stroke)}` +
    `M${point(end - stroke / 2, at + stroke / 2)}L${point(end + stroke / 2, at - stroke / 2)}`);
  const middle = (low + high) / 2;
  return {
    d: `${ends.join("")}M${point(low, at)}L${point(high, at)}`,
    text: axis === "u"
      ? { x: middle, y: at + (side > 0 ? 14 : -5) / scale, "text-anchor": "middle" }
      : { x: at + (side * 5) / scale, y: middle + 4 / scale, "text-anchor": side > 0 ? "start" : "end" },
    fits: axis === "v" || lettersFit(text, high - low, scale),
  };
}

// The handle that is nearest to a place, of those named.
export function nearest(handles, keys, at, scale) {
  const far = ({ at: [u, v], anchor, room }) => {
    const out = anchor && room * scale < SHORT ? (OUTSIDE / scale) * Math.sign(u - anchor[0]) : 0;
    return Math.hypot(u + out - at.u, v - at.v);
  };
  return keys.reduce((best, key) => (far(handles[key]) < far(handles[best]) ? key : best));
}

// How a shape of a handle's group is drawn while the handle is `by` away from where it stands.
export function carried(handle, { u, v }) {
  if (!handle.anchor) return `translate(${u} ${v})`;
  const [a, b] = handle.anchor, long = handle.at[0] - a, high = handle.at[1] - b;
  return `translate(${a} ${b}) scale(${long ? 1 + u / long : 1} ${high ? 1 + v / high : 1}) translate(${-a} ${-b})`;
}
