// S11 of a run under way: what was seen last as a line, the look before it behind. Colours are those of the page.
const LEFT = 46, RIGHT = 22, TOP = 8, BOTTOM = 40, WIDTH = 480, HEIGHT = 220;

export default {
  template: `
    <figure class="settling">
      <svg :viewBox="'0 0 ' + width + ' ' + height" role="img" :aria-label="sentence">
        <g v-for="db in levels" :key="'l' + db">
          <line :x1="left" :x2="width - right" :y1="y(db)" :y2="y(db)" class="grid" />
          <text :x="left - 6" :y="y(db) + 4" text-anchor="end">{{ db }}</text>
        </g>
        <g v-for="ghz in marks" :key="'m' + ghz">
          <line :x1="x(ghz)" :x2="x(ghz)" :y1="top" :y2="height - bottom" class="grid" />
          <text :x="x(ghz)" :y="height - bottom + 16" text-anchor="middle">{{ ghz.toFixed(digits) }}</text>
        </g>
        <text :x="left" :y="height - 4">S11 in dB over GHz</text>
        <polyline v-if="before.length" :points="path(before)" class="before" />
        <polyline :points="path(now)" class="now" />
      </svg>
      <figcaption>{{ sentence }}</figcaption>
    </figure>`,
  props: { ghz: Array, now: Array, before: Array, sentence: String },
  data: () => ({ left: LEFT, right: RIGHT, top: TOP, bottom: BOTTOM, width: WIDTH, height: HEIGHT }),
  computed: {
    lowest() { return Math.max(-60, Math.min(-10, 10 * Math.floor(Math.min(...this.now, ...this.before) / 10))); },
    levels() { const found = []; for (let db = 0; db >= this.lowest; db -= this.lowest < -30 ? 20 : 10) found.push(db); return found; },
    marks() { const [a, b] = [this.ghz[0], this.ghz[this.ghz.length - 1]]; return [0, 0.25, 0.5, 0.75, 1].map((s) => a + s * (b - a)); },
    digits() { return this.ghz[this.ghz.length - 1] - this.ghz[0] < 0.4 ? 3 : 2; },
  },
  methods: {
    x(ghz) { const [a, b] = [this.ghz[0], this.ghz[this.ghz.length - 1]]; return LEFT + (ghz - a) / (b - a || 1) * (WIDTH - LEFT - RIGHT); },
    // What lies below the drawing stays at its lower edge.
    y(db) { return TOP + Math.min(Math.max(db / this.lowest, 0), 1) * (HEIGHT - TOP - BOTTOM); },
    path(values) { return values.map((db, i) => this.x(this.ghz[i]).toFixed(1) + "," + this.y(db).toFixed(1)).join(" "); },
  },
};
