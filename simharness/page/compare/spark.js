// A curve of levels in dB as a small picture, drawn from numbers alone.
const WIDE = 120, HIGH = 36;

export default {
  props: { levels: Array, band: Array, lowest: Number, said: String },
  computed: {
    points() {
      const step = WIDE / Math.max(this.levels.length - 1, 1);
      return this.levels.map((level, n) => `${(n * step).toFixed(1)},${((HIGH * level) / this.lowest).toFixed(1)}`).join(" ");
    },
    left() { return this.band.length ? WIDE * this.band[0] : 0; },
    width() { return this.band.length ? WIDE * (this.band[1] - this.band[0]) : 0; },
  },
  template: `
    <svg class="spark" viewBox="0 0 ${WIDE} ${HIGH}" role="img" :aria-label="said">
      <rect v-if="width > 0" :x="left" y="0" :width="width" height="${HIGH}" fill="var(--metal)" />
      <polyline v-if="levels.length" :points="points" fill="none" stroke="var(--curve-1)" stroke-width="1.5" />
    </svg>`,
};
