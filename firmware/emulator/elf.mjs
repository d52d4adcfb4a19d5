// The loadable parts of a 32-bit little-endian ELF file. Source: Tool Interface Standard, ELF 1.2.
import fs from 'node:fs';

const PT_LOAD = 1;

/** [{ address (physical), bytes }] of every part that has bytes in the file. */
export function segments(path) {
  const file = fs.readFileSync(path);
  const start = file.readUInt32LE(28), size = file.readUInt16LE(42), count = file.readUInt16LE(44);
  const parts = [];
  for (let n = 0; n < count; n++) {
    const header = start + n * size;
    const [type, offset, , address, length] = [0, 4, 8, 12, 16].map((at) => file.readUInt32LE(header + at));
    if (type === PT_LOAD && length > 0) parts.push({ address, bytes: file.subarray(offset, offset + length) });
  }
  return parts;
}
