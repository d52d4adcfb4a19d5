// A PC at the board's USB port: attached, asleep, reading nothing, gone; lines with checksums as on the serial line.
//
// The emulator's own controller takes a packet at the instant the program offers it and tells the program that one came
// before any did. Here an offered buffer stays offered until the PC takes it or sends something, as the data sheet says.
import { checksum } from './serial.mjs';

const AVAILABLE = 1 << 10, FULL = 1 << 15, LENGTH = 0x3ff;
const SUSPENDED = 1 << 4, RESUME = 1 << 11, BUS_RESET = 1 << 19, SIE_STATUS = 0x50, ADDRESS = 0;
const RESET_NS = 10e6, PACKET_NS = 50e3, SUSPEND_NS = 3e6, ANSWER_NS = 500e6;
const IN = 0x80, SET_ADDRESS = 5, GET_DESCRIPTOR = 6, SET_CONFIGURATION = 9, SET_LINE_CODING = 0x20, SET_LINE_STATE = 0x22;

export class Pc {
  constructor(board) {
    this.board = board;
    this.usb = board.mcu.usbCtrl;
    this.view = board.mcu.usbDPRAMView;
    this.memory = board.mcu.usbDPRAM;
    Object.assign(this, { attached: false, ready: false, asleep: false, reads: true, opened: false, lines: [], broken: 0, partial: '', toSend: [], control: null, plan: [], failed: 0 });
    this.offered = new Set(); // DPRAM offsets of buffers that wait for the PC
    this.usb.DPRAMUpdated = (offset, value) => this.#offer(offset, value);
    this.usb.onUSBEnabled = () => {};
    this.usb.onResetReceived = () => { this.offered.clear(); this.control = null; this.ready = this.attached; this.#next(); };
    const write = this.usb.writeUint32.bind(this.usb);
    this.usb.writeUint32 = (offset, value) => { // "suspended" is cleared by writing it, which the emulator leaves out
      if (offset === SIE_STATUS && this.usb.rawWriteValue & SUSPENDED) this.usb.sieStatus &= ~SUSPENDED;
      write(offset, value);
    };
    const alarm = (work) => board.clock.createAlarm(work);
    this.move = alarm(() => this.#move());
    this.suspended = alarm(() => this.#status(SUSPENDED));
    this.reset = alarm(() => this.#status(BUS_RESET));
    this.late = alarm(() => { this.failed++; this.control = null; this.attach(); }); // a host tries again
  }

  /** Plugged in: reset, address, descriptors, configuration; then a program opens the port, unless told otherwise. */
  attach({ open = true } = {}) {
    Object.assign(this, { attached: true, ready: false, asleep: false, opened: false, control: null, partial: '' });
    this.suspended.cancel();
    this.plan = [
      { setup: [0, SET_ADDRESS, 1, 0, 0, 0, 0, 0] },
      { setup: [IN, GET_DESCRIPTOR, 0, 1, 0, 0, 18, 0] },
      { setup: [IN, GET_DESCRIPTOR, 0, 2, 0, 0, 255, 0], then: (bytes) => this.#endpoints(bytes) },
      { setup: [0, SET_CONFIGURATION, 1, 0, 0, 0, 0, 0] },
    ];
    if (open) this.open();
    this.reset.schedule(RESET_NS);
  }

  /** A program on the PC opens the port, as a terminal does. */
  open() {
    this.plan.push(
      { setup: [0x21, SET_LINE_CODING, 0, 0, 0, 0, 7, 0], data: [0, 0xc2, 1, 0, 0, 0, 8] },
      { setup: [0x21, SET_LINE_STATE, 3, 0, 0, 0, 0, 0], then: () => { this.opened = true; } },
    );
    this.#next();
  }

  close() {
    this.plan.push({ setup: [0x21, SET_LINE_STATE, 0, 0, 0, 0, 0, 0], then: () => { this.opened = false; } });
    this.#next();
  }

  /** The cable is out, or the PC has no power: the bus is idle, that is all the board sees. */
  detach() {
    Object.assign(this, { attached: false, ready: false, opened: false, control: null, plan: [], partial: '', toSend: [] });
    [this.move, this.reset, this.late].forEach((alarm) => alarm.cancel());
    this.suspended.schedule(SUSPEND_NS);
  }

  sleep() { this.asleep = true; this.suspended.schedule(SUSPEND_NS); }

  wake() {
    this.asleep = false;
    this.suspended.cancel();
    this.#status(RESUME);
    this.#soon();
  }

  send(bytes) { this.toSend.push(...bytes); this.#soon(); }

  say(text) { this.send(Buffer.from(`${text}~${checksum(text)}\n`)); }

  take(word = '') {
    const all = this.lines.splice(0);
    return all.filter((line) => line.startsWith(word)).map((line) => line.slice(word.length));
  }

  /** Goes on reading after `reads` was false. */
  readOn() { this.reads = true; this.#soon(); }

  #status(bit) { this.usb.sieStatus |= bit; this.usb.sieStatusUpdated(); }

  #soon() { if (this.attached && !this.asleep) this.move.schedule(PACKET_NS); }

  #offer(offset, value) {
    if (offset < 0x80 || offset > 0xfc) return;
    if (!(value & AVAILABLE)) { this.offered.delete(offset); return; }
    this.offered.add(offset);
    this.#soon();
  }

  #buffer(offset) {
    const endpoint = (offset - 0x80) >> 3;
    return endpoint === 0 ? 0x100 : this.view.getUint32(endpoint * 8 + (offset & 4), true) & 0xffc0;
  }

  /** One packet of an offered buffer: to the PC, or from it. */
  #packet(offset, bytes) {
    let value = this.view.getUint32(offset, true), got;
    if (bytes) {
      this.memory.set(bytes, this.#buffer(offset));
      value = (value & ~LENGTH & ~AVAILABLE) | FULL | bytes.length;
    } else {
      const at = this.#buffer(offset);
      got = [...this.memory.slice(at, at + (value & LENGTH))];
      value &= ~AVAILABLE & ~FULL;
    }
    this.view.setUint32(offset, value, true);
    this.offered.delete(offset);
    this.usb.indicateBufferReady((offset - 0x80) >> 3, !!(offset & 4));
    return got;
  }

  #move() {
    if (!this.attached || this.asleep) return;
    this.#controlPackets();
    const bulkIn = 0x80 + this.in * 8, bulkOut = 0x84 + this.out * 8;
    if (this.in && this.reads && this.offered.has(bulkIn)) { this.#take(this.#packet(bulkIn)); this.#soon(); }
    if (this.out && this.opened && this.toSend.length && this.offered.has(bulkOut)) {
      this.#packet(bulkOut, this.toSend.splice(0, 64));
      this.#soon();
    }
  }

  #next() {
    if (this.control || !this.ready || !this.plan.length) return;
    this.control = { ...this.plan.shift(), got: [], stage: 'data' };
    this.late.schedule(ANSWER_NS);
    this.offered.delete(0x80);
    this.offered.delete(0x84);
    this.usb.sendSetupPacket(new Uint8Array(this.control.setup));
  }

  #controlPackets() {
    const { control } = this;
    if (!control) return;
    const asked = control.setup[6] | control.setup[7] << 8, isIn = !!(control.setup[0] & IN);
    if (control.stage === 'data' && isIn && this.offered.has(0x80)) {
      const bytes = this.#packet(0x80);
      control.got.push(...bytes);
      if (bytes.length < 64 || control.got.length >= asked) control.stage = 'status';
      return this.#soon();
    }
    if (control.stage === 'data' && !isIn && asked && this.offered.has(0x84)) {
      this.#packet(0x84, control.data);
      control.stage = 'status';
      return this.#soon();
    }
    const status = isIn ? 0x84 : 0x80;
    if ((control.stage === 'status' || (!isIn && !asked)) && this.offered.has(status)) {
      if (isIn) this.#packet(status, []); else this.#packet(status);
      this.late.cancel();
      this.control = null;
      control.then?.(control.got);
      this.#next();
    }
  }

  #endpoints(bytes) {
    for (let at = 0, data = false; at < bytes.length; at += bytes[at]) {
      if (bytes[at + 1] === 4) data = bytes[at + 5] === 0x0a;
      if (bytes[at + 1] === 5 && data) this[bytes[at + 2] & IN ? 'in' : 'out'] = bytes[at + 2] & 15;
    }
  }

  #take(bytes) {
    for (const byte of bytes) {
      if (byte !== 0x0a) { this.partial += String.fromCharCode(byte); continue; }
      const line = this.partial.replace(/\r$/, '');
      this.partial = '';
      if (line.slice(-5) === `~${checksum(line.slice(0, -5))}`) this.lines.push(line.slice(0, -5));
      else { this.broken++; this.firstBroken ??= line; }
    }
  }
}
