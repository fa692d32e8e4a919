// Replays recordings in the WebAssembly core: node findings.mjs MODULE FOLDER RECORDING... writes the
// findings of each into the folder, as NAME.json.
import { readFileSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';

const [module, folder, ...recordings] = process.argv.slice(2);
const { instance } = await WebAssembly.instantiate(readFileSync(module), {});
const { push, analyse, byte } = instance.exports;

for (const path of recordings) {
  for (const each of readFileSync(path)) push(each);
  const text = new Uint8Array(analyse());
  for (let at = 0; at < text.length; at += 1) text[at] = byte(at);
  writeFileSync(join(folder, `${basename(path, '.jsonl')}.json`), text);
}
