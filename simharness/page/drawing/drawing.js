// Front, side and end of the antenna to one scale, in SVG. What is grabbed moves at once in here; its values go
// to the server, which answers with what the record makes of them.
import { TRUE, carried, dimensionLines, lettersFit, limited, nearest, place, snapped, valueAt, words } from "simharness-drawing/geometry.js";
import { Sender } from "simharness-drawing/sender.js";

const UNLOCK = 4; // pixels before a grabbed thing leaves the axis along which it is being moved
const BAR = 50; // mm of the bar that is checked by a rule
const ARROWS = { ArrowLeft: ["u", -1], ArrowRight: ["u", 1], ArrowUp: ["v", -1], ArrowDown: ["v", 1] };
const PLAIN = ["label", "box", "body", "pads"];
const PARTS = ["shapes", "dimensions", "words", "handles"];

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
          <input type="number" min="20" max="200" step="0.5" v-model.number="bar" @input="measure"> mm by a rule</label>
      </fieldset>
      <div class="drawing-scroll">
        <figure v-for="(view, side) in shown" :key="side">
          <figcaption>{{ view.label }}</figcaption>
          <svg :ref="side" :data-view="side" role="group" :aria-label="view.label" v-bind="frame(side)">
            <path v-for="(shape, key) in view.shapes" :key="key" :d="shape.d" :class="'d-' + shape.kind.split(' ').join(' d-')"
              :data-shape="key" :transform="shapeAt(side, key, shape)" fill-rule="evenodd"
              @pointerdown="grabShape($event, side, key)"/>
            <g v-for="(line, key) in view.dimensions" :key="key" class="d-dimension" v-show="lines(line).fits"
              aria-hidden="true">
              <path :d="lines(line).d"/>
              <text v-bind="lines(line).text" :font-size="12 / scale">{{ line.text }}</text>
            </g>
            <text v-for="(text, key) in view.words" :key="key" class="d-words" v-show="holds(text)" :text-anchor="text.anchor"
              :x="text.at[0] + text.shift[0] / scale" :y="text.at[1] + text.shift[1] / scale"
              :font-size="12 / scale">{{ text.text }}</text>
            <g v-for="(handle, key) in view.handles" :key="key" :ref="side + '/' + key" :data-handle="key"
              :class="['d-handle', { 'd-held': isHeld(side, key), 'd-refused': isRefused(handle) }]"
              :transform="handleAt(side, key, handle)" role="slider" v-bind="spoken(side, key, handle)"
              :tabindex="handle.tab ? 0 : -1" @focus="$emit('focus', { field: handle.moves[0].field })"
              @blur="letGo(side, key)" @keydown="press($event, side, key)" @keyup="release($event, side, key)"
              @pointerdown="grab($event, side)">
              <circle class="d-reach" :r="14 / scale"/>
              <circle class="d-ring" :r="11 / scale"/>
              <circle class="d-grip" :r="grip(handle) / scale"/>
              <text v-if="isRefused(handle)" class="d-mark" :y="-8 / scale" :font-size="15 / scale">!</text>
            </g>
            <text v-if="held && held.side === side" class="d-value" :font-size="13 / scale" v-bind="bubble()"
              aria-hidden="true">{{ said(side, held.key, handleOf(held)) }}</text>
          </svg>
        </figure>
      </div>
      <svg class="drawing-bar" :width="${BAR} * scale + 2" height="14" role="img"
        aria-label="bar of ${BAR} mm at the scale of the drawing">
        <path :d="'M1 1V13M1 7H' + (${BAR} * scale + 1) + 'M' + (${BAR} * scale + 1) + ' 1V13'"/>
      </svg>
      <p class="drawing-note">The bar is ${BAR} mm at the scale of the drawing.
        <template v-if="mode === 'true'">Screens differ: hold a rule to the bar, and type above what it measures.</template>
        {{ size }}</p>
    </div>`,
  data() {
    return { shown: this.views, marked: this.refused, size: this.caption, mode: "fit", bar: BAR, scale: 1, held: null,
      pending: {}, last: null, stuck: [] };
  },
  created() {
    this.start = Date.now().toString(36);
    this.gestures = 0;
    this.sender = new Sender((change) => this.$emit("change", change), () => this.settle());
  },
  mounted() {
    this.watcher = new ResizeObserver(() => this.measure());
    this.watcher.observe(this.$refs.root);
    this.measure();
  },
  unmounted() {
    this.watcher.disconnect();
    this.sender.stop();
  },
  methods: {
    // ---- from the server
    show(changes, refused, size) {
      for (const [side, change] of Object.entries(changes)) {
        const view = this.shown[side];
        for (const part of PARTS)
          if (change.whole.includes(part)) view[part] = change[part];
          else Object.assign(view[part], change[part]);
        for (const name of PLAIN) view[name] = change[name];
      }
      this.marked = refused;
      this.size = size;
      this.stuck = refused.length ? this.notTaken() : [];
      if (this.held && !this.handleOf(this.held)) this.held = null;
      if (!this.sender.busy) this.settle();
    },
    notTaken() {
      // Fields that were moved, but do not stand where they were moved to: something else is refused with them.
      const sent = this.sender.sent?.fields ?? {};
      const moves = Object.values(this.shown).flatMap(({ handles }) => Object.values(handles)).flatMap((each) => each.moves);
      return moves.filter(({ field, value }) => field in sent && sent[field] !== value).map(({ field }) => field);
    },
    answered(serial) {
      this.sender.answered(serial);
    },
    settle() {
      // All is answered: what the record does not take goes back to where it was.
      if (this.held) return;
      this.pending = {};
      this.last = null;
      this.measure();
    },

    // ---- scale
    measure() {
      if (this.held) return; // what is held must not move away under the finger
      const room = this.$refs.root.clientWidth;
      const fits = Object.values(this.shown).map(({ box, pads }) =>
        Math.max(room - pads[0] - pads[2], 60) / (box[2] - box[0]));
      const bar = this.bar >= 20 && this.bar <= 200 ? this.bar : BAR;
      this.scale = this.mode === "fit" ? Math.min(...fits) : (TRUE * BAR) / bar;
    },
    frame(side) {
      const [u0, v0, u1, v1] = this.held ? this.held.boxes[side] : this.shown[side].box;
      const [left, above, right, below] = this.shown[side].pads;
      const width = (u1 - u0) * this.scale + left + right;
      const height = (v1 - v0) * this.scale + above + below;
      const corner = [u0 - left / this.scale, v0 - above / this.scale];
      return { width, height, viewBox: [...corner, width / this.scale, height / this.scale].join(" ") };
    },
    position(event, side) {
      const svg = this.$refs[side][0], frame = svg.getBoundingClientRect(), box = svg.viewBox.baseVal;
      return { u: box.x + (event.clientX - frame.left) / this.scale, v: box.y + (event.clientY - frame.top) / this.scale };
    },
    lines(dimension) {
      return dimensionLines(dimension, this.scale);
    },
    holds({ text, room }) {
      return lettersFit(text, room, this.scale);
    },
    grip({ room }) {
      return Math.max(2, Math.min(4.5, (room * this.scale) / 10));
    },

    // ---- where a handle stands and what it says
    handleOf({ side, key }) {
      return this.shown[side].handles[key];
    },
    isHeld(side, key) {
      return this.held !== null && this.held.side === side && this.held.key === key;
    },
    isRefused({ moves }) {
      return moves.some(({ field }) => this.marked.includes(field) || this.stuck.includes(field));
    },
    value(side, key, move) {
      return this.pending[`${side}/${key}`]?.[move.field] ?? move.value;
    },
    away(side, key, handle) {
      const by = { u: 0, v: 0 };
      for (const move of handle.moves)
        by[move.axis] = place(move, this.value(side, key, move)) - place(move, move.value);
      return by;
    },
    handleAt(side, key, handle) {
      const { u, v } = this.away(side, key, handle);
      return `translate(${handle.at[0] + u} ${handle.at[1] + v})`;
    },
    shapeAt(side, key, shape) {
      const at = `translate(${shape.at[0]} ${shape.at[1]})`;
      const handle = this.last?.side === side && this.handleOf(this.last);
      if (!handle || !handle.group.includes(key) || this.isRefused(handle)) return at;
      return `${carried(handle, this.away(side, this.last.key, handle))} ${at}`;
    },
    said(side, key, { moves }) {
      const short = moves.length > 1;
      return moves.map((move) =>
        `${short ? `${move.short} ` : ""}${words(this.value(side, key, move))} ${move.unit}`).join(", ");
    },
    spoken(side, key, handle) {
      const [main] = handle.moves;
      return {
        "aria-label": `${handle.name}: ${handle.moves.map(({ label }) => label).join("; ")}`,
        "aria-valuenow": this.value(side, key, main), "aria-valuemin": main.lowest, "aria-valuemax": main.highest,
        "aria-valuetext": this.said(side, key, handle), "aria-invalid": this.isRefused(handle) ? "true" : "false",
        "aria-orientation": main.axis === "v" ? "vertical" : "horizontal",
      };
    },
    bubble() {
      const { side, key, boxes } = this.held, handle = this.handleOf(this.held), { u, v } = this.away(side, key, handle);
      const [u0, , u1] = boxes[side], x = handle.at[0] + u, share = (x - u0) / (u1 - u0);
      const anchor = share < 0.3 ? "start" : share > 0.7 ? "end" : "middle";
      return { x, y: handle.at[1] + v - 18 / this.scale, "text-anchor": anchor };
    },

    // ---- a gesture: from grabbing to letting go, or from a key that goes down to its going up
    begin(side, key, pointer) {
      const boxes = Object.fromEntries(Object.entries(this.shown).map(([name, { box }]) => [name, box]));
      const { moves } = this.shown[side].handles[key];
      this.from = moves.map((move) => this.value(side, key, move));
      this.held = { side, key, pointer, boxes, gesture: `${this.start}-${++this.gestures}`, fields: {} };
      this.last = { side, key };
    },
    set(values) {
      const { side, key, fields, gesture } = this.held;
      const changed = this.handleOf(this.held).moves
        .map((move, i) => [move, limited(values[i], move)])
        .filter(([move, value]) => value !== this.value(side, key, move))
        .map(([move, value]) => [move.field, value]);
      if (!changed.length) return;
      Object.assign(fields, Object.fromEntries(changed));
      this.pending[`${side}/${key}`] = { ...fields };
      this.sender.send({ fields: { ...fields }, gesture, final: false });
    },
    finish() {
      const { fields, gesture } = this.held;
      this.held = null;
      if (Object.keys(fields).length) this.sender.send({ fields: { ...fields }, gesture, final: true });
      else if (!this.sender.busy) this.settle();
    },

    // ---- by mouse, finger or pen
    grabShape(event, side, shape) {
      const keys = Object.entries(this.shown[side].handles).filter(([, { group }]) => group.includes(shape));
      if (keys.length) this.take(event, side, keys.map(([key]) => key));
    },
    grab(event, side) {
      this.take(event, side, Object.keys(this.shown[side].handles));
    },
    take(event, side, keys) {
      if (event.button) return;
      event.preventDefault();
      if (this.held?.pointer !== undefined) return;
      if (this.held) this.finish();
      const grabbed = this.position(event, side), key = nearest(this.shown[side].handles, keys, grabbed, this.scale);
      const element = this.$refs[`${side}/${key}`][0];
      element.focus({ preventScroll: true });
      this.begin(side, key, event.pointerId);
      element.setPointerCapture(event.pointerId);
      const free = {};
      const on = {
        pointermove: (e) => e.pointerId === event.pointerId && this.held && this.drag(e, grabbed, free),
        pointerup: (e) => e.pointerId === event.pointerId && stop(),
        pointercancel: (e) => e.pointerId === event.pointerId && stop(true),
        keydown: (e) => e.key === "Escape" && stop(true),
      };
      const stop = (back) => {
        for (const name of Object.keys(on)) element.removeEventListener(name, on[name]);
        if (!this.held) return;
        if (back) this.set(this.from);
        this.finish();
      };
      for (const name of Object.keys(on)) element.addEventListener(name, on[name]);
    },
    drag(event, grabbed, free) {
      const { side } = this.held, { moves } = this.handleOf(this.held), at = this.position(event, side);
      const by = { u: at.u - grabbed.u, v: at.v - grabbed.v };
      // Of two axes only the one along which it went first is free, until it clearly goes along the other.
      const first = Math.abs(by.u) >= Math.abs(by.v) ? "u" : "v";
      if (!free.u && !free.v && Math.abs(by[first]) * this.scale > 1) free[first] = true;
      for (const axis of ["u", "v"]) if (Math.abs(by[axis]) * this.scale > UNLOCK || moves.length < 2) free[axis] = true;
      this.set(moves.map((move, i) => {
        if (!free[move.axis] || !by[move.axis]) return this.from[i];
        return snapped(valueAt(move, place(move, this.from[i]) + by[move.axis]), this.step(event, move));
      }));
    },

    // ---- by keys
    step(event, move) {
      return (event.shiftKey ? 10 : 1) * move.step;
    },
    press(event, side, key) {
      const arrow = ARROWS[event.key];
      if (!arrow || event.ctrlKey || event.altKey || event.metaKey || this.held?.pointer !== undefined) return;
      event.preventDefault();
      if (!this.isHeld(side, key)) this.begin(side, key);
      const { moves } = this.handleOf(this.held), [axis, way] = arrow;
      const along = moves.findIndex((move) => move.axis === axis);
      // With one axis alone the other pair of arrows raises and lowers, as it does on any slider.
      const sign = along < 0 ? (axis === "v" ? -way : way) : way * Math.sign(moves[along].scale);
      this.set(moves.map((move, i) => {
        const value = this.value(side, key, move);
        return i === Math.max(along, 0) ? snapped(value + sign * this.step(event, move), move.step) : value;
      }));
    },
    release(event, side, key) {
      if (ARROWS[event.key] && this.held?.pointer === undefined) this.letGo(side, key);
    },
    letGo(side, key) {
      if (this.isHeld(side, key) && this.held.pointer === undefined) this.finish();
    },
  },
};
