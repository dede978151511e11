// The form of a record. What is typed stays as typed: the server's values are taken for fields that nobody is
// editing, and for the one being edited only when it answers to the last change sent and means another value.

const NUMBER = /^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i;
const ANSWER_MS = 2000; // after that a lost answer no longer holds back what is typed

// A number as such, nothing for an empty field, else the text, which the record refuses.
function meant(text) {
  const plain = text.trim();
  if (plain === "") return null;
  return NUMBER.test(plain) && Number.isFinite(Number(plain)) ? Number(plain) : plain;
}

function shown(value) {
  return value === null || value === undefined ? "" : String(value);
}

function decimals(step) {
  return Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
}

const Entry = {
  props: { field: Object, name: String, text: null, problem: String, bare: Boolean, about: String },
  emits: ["typed", "ended", "entered", "stepped"],
  template: `
    <select v-if="field.kind === 'choice'" :id="id" v-bind="aria" :value="text"
      @change="$emit('typed', $event.target.value, true)" @focus="$emit('entered')">
      <option v-if="!field.choices.includes(text)" :value="text">{{ text }}</option>
      <option v-for="choice in field.choices" :key="choice" :value="choice">{{ choice }}</option>
    </select>
    <input v-else-if="field.kind === 'flag'" type="checkbox" :id="id" v-bind="aria" :checked="text === true"
      @change="$emit('entered'); $emit('typed', $event.target.checked, true)" @focus="byKey($event) && $emit('entered')">
    <textarea v-else-if="field.kind === 'lines'" :id="id" v-bind="aria" :value="text" rows="3"
      @input="$emit('typed', $event.target.value, false)" @change="$emit('ended')" @focus="$emit('entered')"></textarea>
    <input v-else-if="field.kind === 'text'" type="text" :id="id" v-bind="aria" :value="text" autocomplete="off"
      spellcheck="false" @input="$emit('typed', $event.target.value, false)" @change="$emit('ended')"
      @focus="$emit('entered')">
    <input v-else type="text" inputmode="decimal" role="spinbutton" :id="id" v-bind="{ ...aria, ...spin }" :value="text"
      autocomplete="off" @input="$emit('typed', $event.target.value, false)" @change="$emit('ended')"
      @focus="$emit('entered')" @keydown.up.prevent="$emit('stepped', $event.shiftKey ? 10 : 1)"
      @keydown.down.prevent="$emit('stepped', $event.shiftKey ? -10 : -1)">
  `,
  methods: {
    // A box that is clicked must not move away between the press and its end: it comes into focus afterwards.
    byKey(event) {
      return event.target.matches(":focus-visible");
    },
  },
  computed: {
    id() {
      return "field-" + this.name.replaceAll(".", "-");
    },
    aria() {
      const found = { "data-field": this.name };
      if (this.about) found["aria-label"] = this.about;
      if (this.field.required) found["aria-required"] = "true";
      if (this.problem) Object.assign(found, { "aria-invalid": "true", "aria-describedby": this.id + "-problem" });
      return found;
    },
    spin() {
      const value = meant(shown(this.text));
      const found = typeof value === "number" ? { "aria-valuenow": value } : { "aria-valuenow": 0 };
      found["aria-valuetext"] = this.text === "" ? "left out" : this.text + " " + this.field.unit;
      if (this.field.low !== null) found["aria-valuemin"] = this.field.low;
      if (this.field.high !== null) found["aria-valuemax"] = this.field.high;
      return found;
    },
  },
};

export default {
  components: { Entry },
  props: { state: Object },
  emits: ["change", "focusfield", "command", "ready"],
  template: `
    <div class="record-form" @focusout="left">
      <p v-for="sentence in unplaced" :key="sentence" class="refused">{{ sentence }}</p>
      <details v-for="section in sections" :key="section.key" open>
        <summary>{{ section.title }}</summary>
        <div :class="{ part: true, table: section.rows !== null }">
          <div v-if="section.rows === null" class="fields" role="group" :aria-label="section.title">
            <div v-for="field in section.fields" :key="field.name" :class="{ entry: true, full: wide(field) }">
              <label :class="{ flag: field.kind === 'flag' }" :for="id(field.name)">{{ field.label }}<Entry
                v-if="field.kind === 'flag'" v-bind="bound(field, field.name)" v-on="heard(field, field.name)" /></label>
              <div v-if="field.kind !== 'flag'" class="measure">
                <Entry v-bind="bound(field, field.name)" v-on="heard(field, field.name)" />
                <span v-if="field.unit" class="unit">{{ field.unit }}</span>
              </div>
              <p v-if="problems[field.name]" :id="id(field.name) + '-problem'" class="refused">{{ problems[field.name] }}</p>
              <div v-if="focused === field.name" class="sketch inline">
                <div v-if="field.sketch" v-html="sketches[field.sketch]"></div>
                <p>{{ field.help }}</p>
              </div>
            </div>
          </div>
          <div v-else>
            <div class="slots-around"><table v-if="section.rows" class="slots">
              <caption class="out">{{ section.title }}</caption>
              <thead><tr>
                <th scope="col">{{ section.noun }}</th>
                <th v-for="field in section.fields" :key="field.name" scope="col">{{ titled(field) }}</th>
                <td></td>
              </tr></thead>
              <tbody v-for="number in section.rows" :key="number">
                <tr>
                  <th scope="row" :data-noun="section.noun">{{ number }}</th>
                  <td v-for="field in section.fields" :key="field.name" :data-label="titled(field)">
                    <Entry v-bind="bound(field, inRow(field, number), section.noun + ' ' + number)" v-on="heard(field, inRow(field, number))" />
                  </td>
                  <td><button type="button" :aria-label="'Remove ' + section.noun + ' ' + number" @click="command('remove', section.key, number)">Remove</button></td>
                </tr>
                <tr v-for="field in refusedIn(section, number)" :key="'refused ' + field.name">
                  <td class="whole" :colspan="section.fields.length + 2">
                    <p :id="id(inRow(field, number)) + '-problem'" class="refused">{{ problems[inRow(field, number)] }}</p>
                  </td>
                </tr>
                <tr v-if="focusedIn(section, number)" class="inline">
                  <td class="whole sketch" :colspan="section.fields.length + 2">
                    <div v-if="inHand(section).sketch" v-html="sketches[inHand(section).sketch]"></div>
                    <p>{{ inHand(section).help }}</p>
                  </td>
                </tr>
              </tbody>
            </table></div>
            <div class="controls"><button type="button" @click="command('add', section.key, 0)">{{ section.adds }}</button></div>
          </div>
          <div class="sketch beside">
            <template v-if="inHand(section)">
              <div v-if="inHand(section).sketch" v-html="sketches[inHand(section).sketch]"></div>
              <p>{{ inHand(section).label }}: {{ inHand(section).help }}</p>
            </template>
          </div>
        </div>
        <div v-if="section.key === 'slot_rule'" class="controls">
          <button type="button" @click="command('single', section.key, 0)">Write the slots out one by one</button>
        </div>
      </details>
      <p class="out" aria-live="polite">{{ problems[focused] || "" }}</p>
    </div>
  `,
  data() {
    return {
      sections: this.state.sections,
      sketches: this.state.sketches,
      problems: this.state.problems,
      texts: this.made(this.state.values),
      focused: "",
      gesture: 0,
      last: {}, // the field of each section that was in hand last
    };
  },
  created() {
    Object.assign(this, { sent: 0, answered: 0, waiting: {}, open: false, timer: null });
  },
  mounted() {
    this.$emit("ready", {});
  },
  beforeUnmount() {
    clearTimeout(this.timer);
  },
  computed: {
    names() {
      const rows = (section) => Array.from({ length: section.rows }, (_, i) => i + 1);
      return new Set(
        this.sections.flatMap((section) =>
          section.rows === null
            ? section.fields.map((field) => field.name)
            : rows(section).flatMap((number) => section.fields.map((field) => this.inRow(field, number))),
        ),
      );
    },
    unplaced() {
      return Object.entries(this.problems)
        .filter(([name]) => !this.names.has(name))
        .map(([, sentence]) => sentence);
    },
  },
  methods: {
    // --- what the server calls
    show(state) {
      const { sections, sketches, problems, values, answer } = state;
      this.sections = sections;
      this.sketches = sketches;
      const kept = this.focused in values ? this.focused : "";
      const texts = this.made(values);
      if (kept && !this.takes(kept, values[kept], answer)) texts[kept] = this.texts[kept];
      this.texts = texts;
      this.problems = problems;
      this.heardFrom(answer);
    },
    update_values(values, problems, answer) {
      for (const [name, value] of Object.entries(values)) {
        if (name !== this.focused || this.takes(name, value, answer)) this.texts[name] = this.asText(value);
      }
      this.problems = problems;
      this.heardFrom(answer);
    },
    // --- what is shown
    made(values) {
      return Object.fromEntries(Object.entries(values).map(([name, value]) => [name, this.asText(value)]));
    },
    asText(value) {
      return typeof value === "boolean" ? value : shown(value);
    },
    takes(name, value, answer) {
      const same = String(meant(shown(this.texts[name]))) === String(value);
      return answer >= this.sent && !(name in this.waiting) && !same;
    },
    id(name) {
      return "field-" + name.replaceAll(".", "-");
    },
    inRow(field, number) {
      return field.name.replace(/\.\d+\./, "." + number + ".");
    },
    titled(field) {
      return field.unit ? field.label + ", " + field.unit : field.label;
    },
    wide(field) {
      return field.kind === "text" || field.kind === "lines";
    },
    refusedIn(section, number) {
      return section.fields.filter((field) => this.problems[this.inRow(field, number)]);
    },
    focusedIn(section, number) {
      return section.fields.some((field) => this.inRow(field, number) === this.focused);
    },
    inHand(section) {
      const name = this.last[section.key];
      return section.fields.find((field) => field.name === name) || section.fields.find((field) => field.sketch) || null;
    },
    bound(field, name, row) {
      const about = row ? row + ": " + this.titled(field) : "";
      return { field, name, text: this.texts[name], problem: this.problems[name] || "", about };
    },
    // --- what the user does
    heard(field, name) {
      return {
        typed: (text, final) => this.typed(field, name, text, final),
        ended: () => this.ended(name),
        entered: () => this.entered(field, name),
        stepped: (steps) => this.stepped(field, name, steps),
      };
    },
    entered(field, name) {
      if (this.focused === name) return;
      this.focused = name;
      this.gesture += 1;
      const section = this.sections.find((one) => one.fields.some((other) => other.name === field.name));
      if (section) this.last = { ...this.last, [section.key]: field.name };
      this.$emit("focusfield", { field: name });
    },
    left(event) {
      if (!event.target.closest("[data-field]")) return;
      this.ended(this.focused);
      if (event.relatedTarget?.type !== "checkbox") this.focused = "";
    },
    typed(field, name, text, final) {
      this.texts[name] = text;
      this.open = !final;
      const value = field.kind === "number" ? meant(text) : text;
      // An empty title or note is left out, as an empty number is.
      this.offer(name, value === "" ? null : value, final);
    },
    // A step goes to the next value that can be marked.
    stepped(field, name, steps) {
      const value = meant(shown(this.texts[name]));
      if (typeof value === "string") return;
      const count = (value ?? 0) / field.step;
      const from = steps > 0 ? Math.floor(count + 1e-6) : Math.ceil(count - 1e-6);
      const text = Number(((from + steps) * field.step).toFixed(decimals(field.step)));
      this.typed(field, name, String(text), false);
    },
    // The end of a gesture has no value of its own: that of the last change is sent once more as final.
    ended(name) {
      if (!this.open || !name) return;
      this.open = false;
      const field = this.fieldOf(name);
      if (field) this.typed(field, name, this.texts[name], true);
    },
    fieldOf(name) {
      const plain = name.replace(/\.\d+\./, ".1.");
      return this.sections.flatMap((section) => section.fields).find((field) => field.name === plain);
    },
    command(name, table, number) {
      this.$emit("command", { name, table, number });
    },
    // --- one change under way at a time, the newest value next
    offer(name, value, final) {
      this.waiting[name] = { value, final, gesture: "form " + name + " " + this.gesture };
      if (this.answered >= this.sent) this.send();
    },
    send() {
      const [name] = Object.keys(this.waiting);
      if (name === undefined) return;
      const { value, final, gesture } = this.waiting[name];
      delete this.waiting[name];
      this.sent += 1;
      this.$emit("change", { fields: { [name]: value }, gesture, final, serial: this.sent });
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.heardFrom(this.sent), ANSWER_MS);
    },
    heardFrom(answer) {
      this.answered = Math.max(this.answered, answer);
      if (this.answered < this.sent) return;
      clearTimeout(this.timer);
      this.send();
    },
  },
};
