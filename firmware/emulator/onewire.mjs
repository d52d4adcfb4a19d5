// One-wire bus and DS18B20 chips, bit by bit, on an open-drain pin.
//
// The wire rises slowly (a release shorter than the rise is seen by nobody). Each chip may sit at any
// corner of the data sheet's times: it looks at 15..60 us, holds a zero for 15..60 us, answers a reset
// after 15..60 us for 60..240 us, converts in up to 750 ms. Faults: unplugged, shorted wire, a wrong
// checksum, power lost. The bus measures what the master does.
import { GPIOPinState } from 'rp2040js';

export function crc8(bytes) {
  let crc = 0;
  for (let byte of bytes) {
    for (let n = 0; n < 8; n++) {
      const mix = (crc ^ byte) & 1;
      crc = (crc >> 1) ^ (mix ? 0x8c : 0);
      byte >>= 1;
    }
  }
  return crc;
}

const span = () => ({ least: Infinity, most: 0 });
const stretch = (s, us) => { s.least = Math.min(s.least, us); s.most = Math.max(s.most, us); };

export class Bus {
  constructor(board, pin, { riseNs = 800 } = {}) {
    this.clock = board.clock;
    this.pin = board.mcu.gpio[pin];
    this.chips = [];
    this.shorted = false;
    this.driven = false; // master pulls now
    this.low = false; // the same as the chips see it
    this.rising = false;
    this.fell = 0;
    this.rose = 0;
    this.seen = { one: span(), zero: span(), reset: span(), recovery: span(), resets: 0, glitches: 0 };
    this.riseNs = riseNs;
    this.rise = this.clock.createAlarm(() => this.#risen());
    this.pin.addListener((state) => this.#master(state === GPIOPinState.Low));
    this.update();
  }

  add(chip) { chip.bus = this; chip.plug(this.clock); this.chips.push(chip); return chip; }

  update() {
    this.pin.setInputValue(!this.low && !this.shorted && !this.chips.some((chip) => chip.low));
  }

  #master(pulls) {
    if (pulls === this.driven) return;
    this.driven = pulls;
    if (!pulls) {
      this.rising = true;
      this.rise.schedule(this.riseNs);
    } else if (this.rising) {
      this.rise.cancel();
      this.rising = false;
      this.seen.glitches++;
    } else {
      const now = this.clock.nanos;
      stretch(this.seen.recovery, (now - this.rose) / 1e3);
      this.fell = now;
      this.low = true;
      this.chips.forEach((chip) => chip.fall());
      this.update();
    }
  }

  #risen() {
    this.rising = false;
    this.low = false;
    this.rose = this.clock.nanos;
    const us = (this.rose - this.fell) / 1e3;
    if (us >= 400) { this.seen.resets++; stretch(this.seen.reset, us); }
    else stretch(us > 45 ? this.seen.zero : this.seen.one, us);
    this.chips.forEach((chip) => chip.risen(us));
    this.update();
  }
}

export class Ds18b20 {
  constructor(serial, celsius, { lookUs = 30, holdUs = 30, waitUs = 30, presenceUs = 120, convertMs = 750 } = {}) {
    Object.assign(this, { celsius, lookUs, holdUs, waitUs, presenceUs, convertMs });
    this.rom = [0x28, serial & 0xff, (serial >> 8) & 0xff, 0x5a, 0x11, 0, 3];
    this.rom.push(crc8(this.rom));
    this.plugged = true;
    this.flip = 0; // into the checksum it sends
    this.garble = 0; // so many of the coming frames are garbled
    this.low = false;
    this.reads = 0;
    this.losePower();
  }

  get identity() { return this.rom.map((byte) => byte.toString(16).padStart(2, '0')).join(''); }

  losePower() {
    this.pad = [0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10];
    this.state = 'idle';
    this.readyAt = null;
  }

  plug(clock) {
    this.clock = clock;
    this.look = clock.createAlarm(() => this.#take(this.bus.low || this.bus.chips.some((chip) => chip.low) ? 0 : 1));
    this.release = clock.createAlarm(() => this.#drive(false));
    this.answer = clock.createAlarm(() => { this.#drive(true); this.release.schedule(this.presenceUs * 1e3); });
  }

  fall() {
    if (!this.plugged || this.state === 'idle') return;
    const bit = this.#sending();
    if (bit === undefined) return this.look.schedule(this.lookUs * 1e3);
    if (this.state === 'search') this.phase++; else this.n++;
    if (bit === 0) { this.#drive(true); this.release.schedule(this.holdUs * 1e3); }
  }

  risen(us) {
    if (us < 480) return;
    this.look.cancel();
    this.release.cancel();
    this.low = false;
    this.state = this.plugged ? 'rom' : 'idle';
    this.shift = this.n = 0;
    if (this.plugged) this.answer.schedule(this.waitUs * 1e3);
  }

  #drive(low) { if (this.low !== low) { this.low = low; this.bus.update(); } }

  #romBit(n) { return (this.rom[n >> 3] >> (n & 7)) & 1; }

  #sending() {
    if (this.state === 'search') return [this.#romBit(this.n), 1 - this.#romBit(this.n)][this.phase];
    if (this.state !== 'send') return undefined;
    return this.n < this.sent.length * 8 ? (this.sent[this.n >> 3] >> (this.n & 7)) & 1 : 1;
  }

  #take(bit) {
    if (this.state === 'match' || this.state === 'search') {
      if (bit !== this.#romBit(this.n)) this.state = 'idle';
      else if (++this.n === 64) { this.state = this.state === 'match' ? 'command' : 'idle'; this.n = 0; }
      this.phase = 0;
      return;
    }
    if (!['rom', 'command', 'receive'].includes(this.state)) return;
    this.shift |= bit << this.n;
    if (++this.n < 8) return;
    const byte = this.shift;
    this.shift = this.n = 0;
    if (this.state === 'rom') this.#rom(byte);
    else if (this.state === 'command') this.#command(byte);
    else { this.pad[2 + this.got] = byte; if (++this.got === 3) this.state = 'idle'; }
  }

  #rom(byte) {
    this.phase = 0;
    this.state = { 0x55: 'match', 0xcc: 'command', 0xf0: 'search' }[byte] ?? 'idle';
  }

  #command(byte) {
    if (this.readyAt !== null && this.clock.nanos >= this.readyAt) {
      this.readyAt = null;
      const raw = Math.round(this.celsius * 16) & 0xffff;
      [this.pad[0], this.pad[1], this.pad[6]] = [raw & 0xff, raw >> 8, 0x10 - (raw & 0x0f)];
    }
    this.state = 'idle';
    if (byte === 0x44) this.readyAt = this.clock.nanos + this.convertMs * 1e6;
    else if (byte === 0x4e) { this.state = 'receive'; this.got = 0; }
    else if (byte === 0xbe) {
      this.reads++;
      const garbled = this.garble > 0;
      this.garble -= garbled;
      this.sent = [...this.pad, crc8(this.pad) ^ this.flip ^ garbled];
      this.state = 'send';
    }
  }
}
