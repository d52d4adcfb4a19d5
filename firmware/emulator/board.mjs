// A Pico without a display: loads an image, runs it, and stands in for what the emulator lacks.
//
// Added from outside, nothing of the emulator is changed: a boot ROM of our own (rom.s) whose flash
// calls stop at breakpoints and are carried out here, the missing XIP control block, pads that read
// back what they drive (or are stuck), and a serial port whose characters take time.
import fs from 'node:fs';
import { BasePeripheral, ConsoleLogger, GPIOPinState, LogLevel, RP2040 } from 'rp2040js';
import { segments } from './elf.mjs';

const FLASH = 0x10000000, VECTORS = 0x10000100;
const CYCLE_NS = 8, RING_CYCLE_NS = 154; // 125 MHz from the crystal; some 6.5 MHz from the ring oscillator before
const STACK_BYTES = 64 * 1024, PAINT = 0x5a; // the stack's region in the image's memory.x
const ERASE_NS = 45e6, PROGRAM_NS = 0.7e6; // typical serial NOR flash: 4 KiB sector, 256-byte page

class XipControl extends BasePeripheral {
  readUint32(offset) { return offset === 8 ? 2 : 0; } // status: FIFO empty
  writeUint32() {}
}

export class Board {
  /**
   * `flash`, `scratch`: kept from an earlier board; `reason`: the watchdog's register (1 it bit, 2 asked for);
   * `broken`: parts that do not work, see `breakPart`.
   */
  constructor(image, { flash, scratch, reason = 0, broken = [] } = {}) {
    this.mcu = new RP2040();
    this.clock = this.mcu.clock;
    this.mcu.logger = new ConsoleLogger(LogLevel.Error, false);
    this.mcu.peripherals[0x14000] = new XipControl(this.mcu, 'XIP_CTRL');
    this.instructions = 0;
    this.stopped = null;
    this.erases = 0;
    this.cycleNs = CYCLE_NS;
    this.cutAt = Infinity; // flash operation in which the power goes
    this.operations = 0;
    const rom = fs.readFileSync(new URL('./rom.bin', import.meta.url));
    this.mcu.bootrom.set(new Uint32Array(rom.buffer.slice(rom.byteOffset, rom.byteOffset + (rom.length & ~3))));
    if (flash) this.mcu.flash.set(flash);
    for (const { address, bytes } of segments(image)) {
      if (address < FLASH || address >= FLASH + this.mcu.flash.length) throw new Error(`part at ${address.toString(16)}`);
      this.mcu.flash.set(bytes, address - FLASH);
    }
    this.mcu.onBreak = (code) => this.#breakpoint(code);
    const dog = this.mcu.peripherals[0x40058];
    dog.reason = reason;
    if (scratch) dog.scratchData.set(scratch);
    dog.onWatchdogTrigger = () => {
      this.stopped = 'watchdog';
      // The emulator's timer would go off again and again within the same nanosecond.
      dog.timer.enable = false;
      dog.alarm.enable = false;
    };
    this.pads = this.mcu.gpio.map((pin, n) => {
      const pad = { stuck: null };
      pin.addListener((state) => {
        if (state === GPIOPinState.High || state === GPIOPinState.Low) {
          pin.setInputValue(pad.stuck ?? state === GPIOPinState.High);
        }
        this.onPad?.(n, state);
      });
      return pad;
    });
    broken.forEach((part) => this.breakPart(part));
    this.mcu.sram.fill(PAINT, 0, STACK_BYTES);
    const core = this.mcu.core;
    core.VTOR = VECTORS;
    core.SP = this.mcu.readUint32(VECTORS);
    core.PC = this.mcu.readUint32(VECTORS + 4) & ~1;
  }

  /** Words of the watchdog that outlive its resets. */
  get scratch() { return this.mcu.peripherals[0x40058].scratchData.slice(); }

  /** One of: crystal, pll (never ready), adc, conversion (never ready, never done), flash, dead flash (never done, takes nothing). */
  breakPart(part) {
    const zeroBits = (peripheral, offset, bits) => {
      const read = peripheral.readUint32.bind(peripheral);
      peripheral.readUint32 = (at) => (at === offset ? read(at) & ~bits : read(at));
    };
    const { mcu } = this;
    const parts = {
      crystal: () => { zeroBits(mcu.peripherals[0x40024], 4, 0x80000000); this.cycleNs = RING_CYCLE_NS; },
      pll: () => { zeroBits(mcu.pllSys, 0, 0x80000000); this.cycleNs = RING_CYCLE_NS; },
      adc: () => zeroBits(mcu.peripherals[0x4004c], 0, 0x100),
      conversion: () => { mcu.peripherals[0x4004c].onADCRead = () => {}; },
      flash: () => { this.flashHangs = true; },
      'dead flash': () => { this.flashIsDead = true; },
    };
    parts[part]();
  }

  /** Level a pin drives; null if it drives none. */
  level(pin) {
    const state = this.mcu.gpio[pin].value;
    return state === GPIOPinState.High ? true : state === GPIOPinState.Low ? false : null;
  }

  /** Stack bytes used at most: from the top down to the lowest byte that lost its paint. */
  get stackUsed() {
    const lowest = this.mcu.sram.subarray(0, STACK_BYTES).findIndex((byte) => byte !== PAINT);
    return lowest < 0 ? 0 : STACK_BYTES - lowest;
  }

  /** Milliseconds since the reset. */
  get ms() { return this.clock.nanos / 1e6; }

  /** Runs for so many milliseconds, or until something stops it. */
  run(ms) {
    const { core } = this.mcu, end = this.clock.nanos + ms * 1e6;
    while (this.clock.nanosCounter < end && !this.stopped) {
      if (core.waiting || this.hangs) {
        const alarm = this.clock.nextAlarm;
        const until = alarm ? Math.min(alarm.nanos, end) : end;
        this.clock.tick(Math.max(until - this.clock.nanosCounter, 1));
      } else {
        this.instructions++;
        this.clock.tick(core.executeInstruction() * this.cycleNs);
      }
    }
  }

  #breakpoint(code) {
    const r = this.mcu.core.registers, { flash } = this.mcu;
    switch (code) {
      case 0xf0: case 0xf1: case 0xf4: case 0xf5: return; // connect, leave XIP, flush, enter XIP
      case 0xf2: return this.#operation(() => this.#erase(flash, r[0], r[1]));
      case 0xf3: return this.#operation(() => this.#program(flash, r[0], r[1], r[2]));
      default: this.stopped = `breakpoint ${code} at ${this.mcu.core.PC.toString(16)}`;
    }
  }

  #operation(work) {
    this.operations++;
    if (this.flashHangs) { this.hangs = true; return; }
    if (this.flashIsDead) return;
    this.torn = this.operations >= this.cutAt;
    work();
    if (this.torn) this.stopped = 'power cut';
  }

  #erase(flash, offset, length) {
    this.erases += length / 4096;
    for (let n = 0; n < length; n++) if (!this.torn || (n * 7919) % 3) flash[offset + n] = 0xff;
    this.clock.tick(ERASE_NS * length / 4096);
  }

  #program(flash, offset, source, length) {
    const done = this.torn ? length / 2 : length;
    for (let n = 0; n < done; n++) flash[offset + n] &= this.mcu.readUint8(source + n);
    this.clock.tick(PROGRAM_NS * length / 256);
  }
}
