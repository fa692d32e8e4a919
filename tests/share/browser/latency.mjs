// How long from a sensor's packet to the picture on four pages: a recording is played into the program
// through a pipe, in its own time, and each page tells when it has drawn which packet.
import { execFileSync } from "node:child_process";
import { readFileSync, openSync, writeSync } from "node:fs";
import { join } from "node:path";
import { chromium } from "playwright-core";
import { start } from "./states.mjs";

const [recording, folder] = process.argv.slice(2);
const PAGES = 4;
const SECONDS = Number(process.env.SECONDS ?? 30);
const lines = readFileSync(recording, "utf8").split("\n").filter(Boolean);
const feed = join(folder, "feed");
execFileSync("mkfifo", [feed]);
// Open both ways, so that neither side waits for the other.
const pipe = openSync(feed, "r+");
writeSync(pipe, `${lines[0]}\n`);
const { child, url } = await start(process.env.PROGRAM, ["visit", "--replay", feed, "--speed", "0", "--share", "--plain"]);

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const pages = [];
for (let n = 0; n < PAGES; n += 1) {
  // Each in a context of its own: as on a phone of its own.
  const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
  await context.addInitScript(() => {
    window.drawn = [];
    addEventListener("DOMContentLoaded", () => {
      const after = new MessageChannel();
      let t = 0;
      after.port1.onmessage = () => window.drawn.push([t, performance.timeOrigin + performance.now()]);
      // The page draws in an animation frame: what is posted then comes after the picture.
      new MutationObserver(() => { t = Number(document.documentElement.dataset.tUs); after.port2.postMessage(0); })
        .observe(document.documentElement, { attributes: true, attributeFilter: ["data-t-us"] });
    });
  });
  const page = await context.newPage();
  await page.goto(url);
  await page.waitForSelector("#heed", { state: "attached" });
  pages.push(page);
}
const written = new Map();
const begin = performance.timeOrigin + performance.now();
for (const line of lines.slice(1)) {
  const t_us = Number(line.match(/"t_us":(\d+)/)?.[1] ?? NaN);
  if (t_us > SECONDS * 1e6) break;
  const wait = begin + t_us / 1000 - (performance.timeOrigin + performance.now());
  if (wait > 1) await new Promise((go) => setTimeout(go, wait));
  written.set(t_us, performance.timeOrigin + performance.now());
  writeSync(pipe, `${line}\n`);
}
await new Promise((go) => setTimeout(go, 1000));
const late = [];
for (const page of pages) {
  for (const [t_us, drawn] of await page.evaluate(() => window.drawn)) {
    if (written.has(t_us)) late.push(drawn - written.get(t_us));
  }
}
await browser.close();
// It waits for the pipe, which nobody closes.
child.kill("SIGKILL");
late.sort((one, other) => one - other);
const at = (share) => late[Math.min(late.length - 1, Math.floor(share * late.length))]?.toFixed(1);
console.log(`${PAGES} pages, ${written.size} packets, ${late.length} pictures: packet to picture ${at(0.5)} ms (half), ${at(0.9)} ms (90 %), ${at(0.99)} ms (99 %), ${at(1)} ms (most)`);
process.exit(0);
