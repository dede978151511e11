// Changes on their way to the server: one for each frame of the screen, and none before the last is answered.
// Of the changes of one gesture only the newest waits.
const PATIENCE = 3000; // ms after which an answer is taken for lost

export class Sender {
  constructor(emit, idle) {
    this.emit = emit;
    this.idle = idle;
    this.queue = [];
    this.serial = 0;
    this.waiting = null; // serial that was not answered yet
    this.sent = null; // what has that number
    this.framed = false;
  }
  get busy() {
    return this.waiting !== null || this.queue.length > 0;
  }
  send(change) {
    const last = this.queue[this.queue.length - 1];
    if (last && last.gesture === change.gesture) this.queue[this.queue.length - 1] = change;
    else this.queue.push(change);
    this.next();
  }
  answered(serial) {
    if (serial !== this.waiting) return;
    clearTimeout(this.timer);
    this.waiting = this.sent = null;
    if (this.queue.length) this.next();
    else this.idle();
  }
  next() {
    if (this.framed || this.waiting !== null || !this.queue.length) return;
    this.framed = true;
    requestAnimationFrame(() => {
      this.framed = false;
      const serial = (this.waiting = ++this.serial);
      this.timer = setTimeout(() => this.answered(serial), PATIENCE);
      this.sent = this.queue.shift();
      this.emit({ ...this.sent, serial });
    });
  }
  stop() {
    clearTimeout(this.timer);
    this.queue = [];
  }
}
