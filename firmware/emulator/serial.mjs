// The serial line of a board, line by line, with checksums; and a UART whose characters take time.
//
// The emulator's UART sends at once, holds its interrupt up for ever and lacks the registers at 04h,
// 34h and 48h (which then read as all ones); all of that is put right here from outside.

const HELD = 32, TX_INTERRUPT = 0x20;

/** CRC-16/IBM-3740 of a string, four hexadecimal digits. */
export function checksum(text) {
  let crc = 0xffff;
  for (const character of text) {
    crc ^= character.charCodeAt(0) << 8;
    for (let n = 0; n < 8; n++) crc = ((crc << 1) ^ (crc & 0x8000 ? 0x1021 : 0)) & 0xffff;
  }
  return crc.toString(16).padStart(4, '0');
}

export class Serial {
  constructor(board) {
    this.lines = [];
    this.broken = 0;
    this.partial = '';
    this.toSend = [];
    const uart = board.mcu.uart[0], waiting = [];
    const characterNs = () => 10e9 / (uart.baudRate || 115200);
    uart.checkInterrupts = () => board.mcu.setInterrupt(uart.irq, !!(uart.interruptStatus & uart.interruptMask));
    Object.defineProperty(uart, 'flags', {
      get: () => (uart.rxFIFO.full ? 0x40 : 0) | (uart.rxFIFO.empty ? 0x10 : 0)
        | (waiting.length >= HELD ? 0x20 : 0) | (waiting.length ? 0x08 : 0x80),
    });
    const missing = { 0x04: 0, 0x34: 0x12, 0x48: 0 };
    const read = uart.readUint32.bind(uart), write = uart.writeUint32.bind(uart);
    uart.readUint32 = (offset) => missing[offset] ?? read(offset);
    uart.writeUint32 = (offset, value) => { if (offset in missing) missing[offset] = value; else write(offset, value); };
    const sent = board.clock.createAlarm(() => {
      this.#take(waiting.shift());
      if (waiting.length) sent.schedule(characterNs());
      if (waiting.length === 4) { uart.interruptStatus |= TX_INTERRUPT; uart.checkInterrupts(); }
    });
    uart.onByte = (byte) => {
      if (waiting.length < HELD) waiting.push(byte);
      if (waiting.length === 1) sent.schedule(characterNs());
    };
    this.feed = board.clock.createAlarm(() => {
      uart.feedByte(this.toSend.shift());
      if (this.toSend.length) this.feed.schedule(characterNs());
    });
    this.characterNs = characterNs;
  }

  /** Sends raw bytes. */
  send(bytes) {
    const idle = this.toSend.length === 0;
    this.toSend.push(...bytes);
    if (idle && this.toSend.length) this.feed.schedule(this.characterNs());
  }

  /** Sends a line with its checksum. */
  say(text) { this.send(Buffer.from(`${text}~${checksum(text)}\n`)); }

  /** Lines that came since the last call, optionally only those that start with `word`. */
  take(word = '') {
    const all = this.lines.splice(0);
    return all.filter((line) => line.startsWith(word)).map((line) => line.slice(word.length));
  }

  #take(byte) {
    if (byte === 0x0a) {
      const line = this.partial.replace(/\r$/, '');
      this.partial = '';
      const body = line.slice(0, -5);
      if (line.slice(-5) === `~${checksum(body)}`) this.lines.push(body);
      else { this.broken++; this.firstBroken ??= line; }
    } else this.partial += String.fromCharCode(byte);
  }
}
