// Front, side and end of the antenna to one scale, in SVG. What is grabbed moves at once in here; the values go
// to the server, which answers with what the record makes of them.
const TRUE = 96 / 25.4; // CSS pixels in a millimetre
const PAD = { left: 64, right: 32, top: 44, bottom: 48 }; // pixels around a view, for dimensions and words
const LEVEL = 20; // pixels from an edge to its dimension line
const UNLOCK = 4; // pixels before a grabbed thing leaves the axis along which it is being moved
const PATIENCE = 3000; // ms after which an answer is taken for lost
const ARROWS = { ArrowLeft: ["u", -1], ArrowRight: ["u", 1], ArrowUp: ["v", -1], ArrowDown: ["v", 1] };

const round = (value) => Math.round(value * 1e6) / 1e6;
const words = (value) => `${round(value)}`;
const snapped = (value, step) => round(Math.round(value / step) * step);

// Where a value of a move lies on its axis, and the value at a place on it; see Move in elements.py.
const place = (move, value) =>
  move.scale * (move.radius ? move.radius * Math.sin(value / move.radius) : value);
function valueAt(move, at) {
  const straight = at / move.scale;
  if (!move.radius) return straight;
  return move.radius * Math.asin(Math.max(-1, Math.min(1, straight / move.radius)));
}

export default {
  props: { views: Object, refused: Array, caption: String },
  emits: ["change", "focus"],
  template: `
    <div class="drawing" ref="root">
      <fieldset class="drawing-size">
        <legend>Size of the drawing</legend>
        <label><input type="radio" value="fit" v-model="mode" @change="measure"> fitted to the width</label>
        <label><input type="radio" value="true" v-model="mode" @change="measure"> true size</label>
        <label v-if="mode === 'true'">the bar measures
          <input type="number" min="20" max="200" step="0.5" v-model.number="bar" @input="measure"> mm by a rule
        </label>
      </fieldset>
      <div class="drawing-scroll" ref="scroll">
        <figure v-for="(view, side) in shown" :key="side">
          <figcaption>{{ view.label }}</figcaption>
          <svg :ref="side" :data-view="side" role="group" :aria-label="view.label" v-bind="frame(side)"
               xmlns="http://www.w3.org/2000/svg">
            <path v-for="(shape, key) in view.shapes" :key="key" :d="shape.d" :class="'d-' + shape.kind.replace(' ', ' d-')"
                  :data-shape="key" :transform="carried(side, key, shape)" fill-rule="evenodd"
                  @pointerdown="grabShape($event, side, key)"/>
            <g v-for="(line, key) in view.dimensions" :key="key" class="d-dimension" v-show="lines(line).fits"
               aria-hidden="true">
              <path :d="lines(line).d"/>
              <text v-bind="lines(line).text" :font-size="12 / scale">{{ line.text }}</text>
            </g>
            <text v-for="(text, key) in view.words" :key="key" class="d-words" :text-anchor="text.anchor"
                  :x="text.at[0] + text.shift[0] / scale" :y="text.at[1] + text.shift[1] / scale"
                  :font-size="12 / scale">{{ text.text }}</text>
            <g v-for="(handle, key) in view.handles" :key="key" :ref="side + '/' + key" :data-handle="key"
               :class="['d-handle', { held: is(side, key), refused: bad(handle) }]"
               :transform="moved(side, key, handle)" role="slider" v-bind="spoken(side, key, handle)"
               :tabindex="handle.tab ? 0 : -1" @focus="focused(handle)" @keydown="press($event, side, key)"
               @keyup="release($event, side, key)" @blur="left(side, key)"
               @pointerdown="grab($event, side)">
              <circle class="d-reach" :r="14 / scale"/>
              <circle class="d-ring" :r="11 / scale"/>
              <circle class="d-grip" :r="grip(handle)"/>
              <text v-if="bad(handle)" class="d-mark" :y="-8 / scale" :font-size="15 / scale" text-anchor="middle">!</text>
            </g>
            <text v-if="held && held.side === side" class="d-value" :font-size="13 / scale" v-bind="bubble()"
                  aria-hidden="true">{{ said() }}</text>
          </svg>
        </figure>
      </div>
      <svg class="drawing-bar" :width="50 * scale + 2" height="22" role="img" aria-label="bar of 50 mm at the scale of the drawing">
        <path :d="'M1 4V14M1 9H' + (50 * scale + 1) + 'M' + (50 * scale + 1) + ' 4V14'"/>
      </svg>
      <p class="drawing-note">{{ caption_ }} The bar is 50 mm at the scale of the drawing.
        <template v-if="mode === 'true'">A screen shows true size only where a rule says so: measure the bar, and type
          what it measures.</template></p>
    </div>`,
  data() {
    return {
      shown: this.views, marked: this.refused || [], caption_: this.caption, mode: "fit", bar: 50, scale: 1,
      held: null, pending: {},
    };
  },
  created() {
    this.start = Date.now().toString(36);
    this.gestures = 0;
    this.serial = 0;
    this.waiting = null; // serial that the server has not answered yet
    this.queue = [];
    this.asked = false;
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.measure());
    this.watcher.observe(this.$refs.root);
    this.measure();
  },
  unmounted() {
    this.watcher.disconnect();
    clearTimeout(this.timer);
  },
  methods: {
    // ---- from the server
    show(changes, refused, caption) {
      for (const [side, change] of Object.entries(changes)) {
        const view = this.shown[side];
        for (const part of ["shapes", "dimensions", "words", "handles"]) {
          if (change.whole.includes(part)) view[part] = change[part];
          else Object.assign(view[part], change[part]);
        }
        for (const key of ["title", "label", "box"]) view[key] = change[key];
      }
      this.marked = refused;
      this.caption_ = caption;
      if (!this.held) {
        this.pending = {};
        this.measure();
      } else if (!this.handleOf(this.held)) this.held = null;
    },
    answered(serial) {
      if (serial !== this.waiting) return;
      clearTimeout(this.timer);
      this.waiting = null;
      this.ask();
    },

    // ---- to the server: one change for each frame, and none before the last is answered
    send(fields, final) {
      const last = this.queue[this.queue.length - 1];
      const change = { fields, gesture: this.held.gesture, final };
      if (last && last.gesture === change.gesture) this.queue[this.queue.length - 1] = change;
      else this.queue.push(change);
      this.ask();
    },
    ask() {
      if (this.asked || this.waiting !== null || !this.queue.length) return;
      this.asked = true;
      requestAnimationFrame(() => {
        this.asked = false;
        if (this.waiting !== null || !this.queue.length) return;
        this.waiting = ++this.serial;
        this.timer = setTimeout(() => this.answered(this.serial), PATIENCE);
        this.$emit("change", { ...this.queue.shift(), serial: this.waiting });
      });
    },

    // ---- scale
    measure() {
      if (this.held) return; // what is held must not move away under the finger
      const wide = Math.max(...Object.values(this.shown).map((view) => view.box[2] - view.box[0]));
      const room = this.$refs.root.clientWidth - PAD.left - PAD.right - 2;
      if (this.mode === "fit") this.scale = Math.max(room, 60) / wide;
      else this.scale = TRUE * 50 / (this.bar >= 20 && this.bar <= 200 ? this.bar : 50);
    },
    frame(side) {
      const [u0, v0, u1, v1] = this.held?.side === side ? this.held.box : this.shown[side].box;
      const width = (u1 - u0) * this.scale + PAD.left + PAD.right;
      const height = (v1 - v0) * this.scale + PAD.top + PAD.bottom;
      const corner = [u0 - PAD.left / this.scale, v0 - PAD.top / this.scale];
      return { width, height, viewBox: [...corner, width / this.scale, height / this.scale].join(" ") };
    },
    lines({ axis, low, high, edge, side, level, text }) {
      const s = this.scale, at = edge + side * level * LEVEL / s, tick = 4 / s;
      const point = (along, across) => (axis === "u" ? `${along} ${across}` : `${across} ${along}`);
      const ends = [low, high].map((end) =>
        `M${point(end, edge + side * 3 / s)}L${point(end, at + side * tick)}` +
        `M${point(end - tick / 2, at + tick / 2)}L${point(end + tick / 2, at - tick / 2)}`);
      const middle = (low + high) / 2;
      const label = axis === "u"
        ? { x: middle, y: at + (side > 0 ? 14 : -5) / s, "text-anchor": "middle" }
        : { x: at + side * 5 / s, y: middle + 4 / s, "text-anchor": side > 0 ? "start" : "end" };
      return {
        d: ends.join("") + `M${point(low, at)}L${point(high, at)}`, text: label,
        fits: axis === "v" || (high - low) * s > 6.6 * text.length,
      };
    },
    grip(handle) {
      return Math.max(2, Math.min(4.5, (handle.room * this.scale) / 10)) / this.scale;
    },

    // ---- what a handle says and where it stands
    handleOf({ side, key }) {
      return this.shown[side].handles[key];
    },
    is(side, key) {
      return this.held?.side === side && this.held.key === key;
    },
    bad(handle) {
      return handle.moves.some((move) => this.marked.includes(move.field));
    },
    current(side, key, move) {
      return this.pending[`${side}/${key}`]?.[move.field] ?? move.value;
    },
    shift(side, key, handle) {
      const by = { u: 0, v: 0 };
      if (this.pending[`${side}/${key}`])
        for (const move of handle.moves)
          by[move.axis] = place(move, this.current(side, key, move)) - place(move, move.value);
      return by;
    },
    moved(side, key, handle) {
      const { u, v } = this.shift(side, key, handle);
      return `translate(${handle.at[0] + u} ${handle.at[1] + v})`;
    },
    carried(side, key, shape) {
      const at = `translate(${shape.at[0]} ${shape.at[1]})`;
      const held = this.held?.side === side && this.handleOf(this.held);
      if (!held || !held.group.includes(key) || this.bad(held)) return at;
      const { u, v } = this.shift(side, this.held.key, held);
      if (!held.anchor) return `translate(${u} ${v}) ${at}`;
      const [a, b] = held.anchor, long = held.at[0] - a, high = held.at[1] - b;
      const stretch = `${long ? 1 + u / long : 1} ${high ? 1 + v / high : 1}`;
      return `translate(${a} ${b}) scale(${stretch}) translate(${-a} ${-b}) ${at}`;
    },
    spoken(side, key, handle) {
      const [main] = handle.moves;
      const said = handle.moves.map((move) =>
        `${words(this.current(side, key, move))} ${move.unit}${handle.moves.length > 1 ? " " + move.short : ""}`);
      return {
        "aria-label": `${handle.name}: ${handle.moves.map((move) => move.label).join("; ")}`,
        "aria-valuenow": this.current(side, key, main), "aria-valuemin": main.lowest, "aria-valuemax": main.highest,
        "aria-valuetext": said.join(", "), "aria-invalid": this.bad(handle) ? "true" : undefined,
        "aria-orientation": main.axis === "v" ? "vertical" : "horizontal",
      };
    },
    said() {
      const { side, key } = this.held, handle = this.handleOf(this.held);
      return handle ? handle.moves.map((move) => `${move.short} ${words(this.current(side, key, move))} ${move.unit}`).join(", ") : "";
    },
    bubble() {
      const handle = this.handleOf(this.held);
      if (!handle) return {};
      const { u, v } = this.shift(this.held.side, this.held.key, handle);
      const [u0, , u1] = this.held.box, at = handle.at[0] + u;
      const third = (at - u0) / (u1 - u0);
      return {
        x: at, y: handle.at[1] + v - 18 / this.scale,
        "text-anchor": third < 0.3 ? "start" : third > 0.7 ? "end" : "middle",
      };
    },
    focused(handle) {
      this.$emit("focus", { field: handle.moves[0].field });
    },

    // ---- one gesture: from grabbing to letting go, or from a key going down to its going up
    begin(side, key, pointer) {
      this.held = {
        side, key, pointer, gesture: `${this.start}-${++this.gestures}`, box: this.shown[side].box, sent: false,
      };
      this.gripped = this.handleOf(this.held).moves.map((move) => this.current(side, key, move));
    },
    set(values, final) {
      const { side, key } = this.held, moves = this.handleOf(this.held).moves;
      const fields = {};
      moves.forEach((move, i) => {
        const value = Math.max(move.lowest, Math.min(move.highest, values[i]));
        if (value !== this.current(side, key, move) || final) fields[move.field] = value;
      });
      if (!Object.keys(fields).length) return;
      const before = this.pending[`${side}/${key}`] ?? {};
      this.pending[`${side}/${key}`] = { ...before, ...fields };
      this.held.touched = { ...this.held.touched, ...fields };
      this.held.sent = true;
      this.send({ ...this.held.touched }, final);
    },
    finish() {
      const { side, key, sent, touched } = this.held;
      if (sent) this.send({ ...touched }, true);
      this.held = null;
      const handle = this.shown[side].handles[key];
      if (!sent || !handle) delete this.pending[`${side}/${key}`];
      this.measure();
    },
    nearest(event, side, keys) {
      const at = this.position(event, side);
      const far = ({ at: [u, v], anchor, room }) => {
        // the ends of a short slot are picked a little outside of it, so that its middle can be hit, too
        const out = anchor && room * this.scale < 60 ? (8 / this.scale) * Math.sign(u - anchor[0]) : 0;
        return Math.hypot(u + out - at.u, v - at.v);
      };
      const handles = this.shown[side].handles;
      return keys.reduce((best, key) => (far(handles[key]) < far(handles[best]) ? key : best));
    },
    position(event, side) {
      const svg = this.$refs[side][0], frame = svg.getBoundingClientRect(), box = svg.viewBox.baseVal;
      return { u: box.x + (event.clientX - frame.left) / this.scale, v: box.y + (event.clientY - frame.top) / this.scale };
    },
    grabShape(event, side, shape) {
      const keys = Object.entries(this.shown[side].handles).filter(([, each]) => each.group.includes(shape));
      if (keys.length) this.take(event, side, this.nearest(event, side, keys.map(([key]) => key)));
    },
    grab(event, side) {
      this.take(event, side, this.nearest(event, side, Object.keys(this.shown[side].handles)));
    },
    take(event, side, key) {
      if (this.held || event.button) return;
      event.preventDefault();
      const element = this.$refs[`${side}/${key}`][0];
      element.focus({ preventScroll: true });
      this.begin(side, key, event.pointerId);
      this.from = this.position(event, side);
      this.free = {};
      element.setPointerCapture(event.pointerId);
      const move = (e) => e.pointerId === event.pointerId && this.held && this.drag(e);
      const stop = (e) => {
        if (e.pointerId !== undefined && e.pointerId !== event.pointerId) return;
        if (e.type === "keydown" && e.key !== "Escape") return;
        for (const [name, listener] of listeners) element.removeEventListener(name, listener);
        if (!this.held) return;
        if (e.type !== "pointerup" && this.held.sent) this.set(this.gripped, false);
        this.finish();
      };
      const listeners = [["pointermove", move], ["pointerup", stop], ["pointercancel", stop], ["keydown", stop]];
      for (const [name, listener] of listeners) element.addEventListener(name, listener);
    },
    drag(event) {
      const { side } = this.held, moves = this.handleOf(this.held).moves, at = this.position(event, side);
      const by = { u: at.u - this.from.u, v: at.v - this.from.v };
      // Of two axes only the one along which it went first is free, until it clearly goes along the other.
      if (moves.length > 1) {
        const first = Math.abs(by.u) >= Math.abs(by.v) ? "u" : "v";
        if (!this.free.u && !this.free.v && Math.hypot(by.u, by.v) * this.scale > 1) this.free[first] = true;
        for (const axis of ["u", "v"])
          if (Math.abs(by[axis]) * this.scale > UNLOCK) this.free[axis] = true;
      } else this.free[moves[0].axis] = true;
      this.set(moves.map((move, i) => {
        if (!this.free[move.axis] || !by[move.axis]) return this.gripped[i];
        const step = event.shiftKey ? 10 * move.step : move.step;
        return snapped(valueAt(move, place(move, this.gripped[i]) + by[move.axis]), step);
      }), false);
    },
    press(event, side, key) {
      const arrow = ARROWS[event.key];
      if (!arrow || event.ctrlKey || event.altKey || event.metaKey || this.held?.pointer !== undefined) return;
      event.preventDefault();
      if (!this.is(side, key)) {
        if (this.held) this.finish();
        this.begin(side, key);
      }
      const moves = this.handleOf(this.held).moves, [axis, way] = arrow;
      let chosen = moves.findIndex((move) => move.axis === axis);
      // With one axis alone the other pair of arrows raises and lowers, as it does on any slider.
      const sign = chosen < 0 ? (axis === "v" ? -way : way) : way * Math.sign(moves[chosen].scale);
      chosen = Math.max(chosen, 0);
      this.set(moves.map((move, i) => {
        const value = this.current(side, key, move);
        if (i !== chosen) return value;
        const step = event.shiftKey ? 10 * move.step : move.step, next = snapped(value + sign * step, move.step);
        return next;
      }), false);
    },
    release(event, side, key) {
      if (ARROWS[event.key] && this.is(side, key) && this.held.pointer === undefined) this.finish();
    },
    left(side, key) {
      if (this.is(side, key) && this.held.pointer === undefined) this.finish();
    },
  },
};
