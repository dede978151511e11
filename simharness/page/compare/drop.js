// A file field on which a file may be dropped. The file is sent as it is, after a look at its size.
export default {
  props: { label: String, url: String, largest: Number, own: Boolean },
  data: () => ({ over: false, busy: false }),
  mounted() {
    // A file that misses every field is taken too; the page itself allows it to be dropped.
    window.addEventListener("drop", this.dropped);
  },
  unmounted() {
    window.removeEventListener("drop", this.dropped);
  },
  methods: {
    dropped(event) {
      this.over = false;
      if (!event.dataTransfer.files.length || this.meant(event) !== this.$el) return;
      event.preventDefault();
      this.send(event.dataTransfer.files[0]);
    },
    // The field below the file, else the one that is seen, else the one that is there for all views.
    meant(event) {
      const fields = [...document.querySelectorAll(".drop")];
      return event.target.closest?.(".drop") ?? fields.find((field) => field.offsetParent !== null)
        ?? fields.find((field) => !field.hasAttribute("data-own"));
    },
    chosen(event) {
      this.send(event.target.files[0]);
      event.target.value = ""; // so that the same file can be chosen again
    },
    async send(file) {
      if (!file) return;
      if (file.size > this.largest) return this.$emit("refused", { name: file.name, why: "large" });
      this.busy = true;
      try {
        const answer = await fetch(`${this.url}?name=${encodeURIComponent(file.name.slice(0, 255))}`, { method: "POST", body: file });
        if (!answer.ok) this.$emit("refused", { name: file.name, why: answer.status === 413 ? "large" : "unreadable" });
      } catch {
        this.$emit("refused", { name: file.name, why: "unreadable" }); // a folder, for instance
      }
      this.busy = false;
    },
  },
  template: `
    <div class="drop" :class="{ over }" :data-own="own || null" @dragover.prevent="over = true" @dragleave="over = false">
      <label class="field">{{ label }}
        <input type="file" accept=".s1p,.csv,.txt,.tsv,.dat" :disabled="busy" @change="chosen">
      </label>
    </div>`,
};
