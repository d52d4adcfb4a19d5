// Makes a UF2 file of a Pico image: node uf2.mjs IMAGE.elf OUT.uf2
// Source: the published UF2 format: 512-byte blocks of three magic numbers, flags, address, payload
// size, block number, block count, family and 256 bytes of payload. Not tried on real hardware.
import fs from 'node:fs';
import { pathToFileURL } from 'node:url';
import { segments } from './elf.mjs';

const RP2040_FAMILY = 0xe48bff56, FAMILY_GIVEN = 0x2000, PAYLOAD = 256;

/** UF2 blocks for these parts, one Buffer. */
export function uf2(parts) {
  const pages = new Map();
  for (const { address, bytes } of parts) {
    bytes.forEach((byte, n) => {
      const page = (address + n) - ((address + n) % PAYLOAD);
      if (!pages.has(page)) pages.set(page, Buffer.alloc(PAYLOAD));
      pages.get(page)[(address + n) - page] = byte;
    });
  }
  const blocks = [...pages].sort(([one], [other]) => one - other).map(([address, payload], n, all) => {
    const block = Buffer.alloc(512);
    [0x0a324655, 0x9e5d5157, FAMILY_GIVEN, address, PAYLOAD, n, all.length, RP2040_FAMILY]
      .forEach((word, k) => block.writeUInt32LE(word, 4 * k));
    payload.copy(block, 32);
    block.writeUInt32LE(0x0ab16f30, 508);
    return block;
  });
  return Buffer.concat(blocks);
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) {
  const [image, out] = process.argv.slice(2);
  if (!image || !out) {
    console.error('usage: node uf2.mjs IMAGE.elf OUT.uf2');
    process.exit(2);
  }
  fs.writeFileSync(out, uf2(segments(image)));
}
