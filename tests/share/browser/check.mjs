// Every state of the page at every size, light and dark: nothing is wider than the screen, axe-core
// finds nothing, nothing is asked of anywhere else. The states are those of a real visit, kept while
// it is gone through, and put before the real page one by one.
import { readFileSync, mkdirSync } from "node:fs";
import { join } from "node:path";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";
import { HtmlValidate } from "html-validate";
import { start, states } from "./states.mjs";

const [folder, kept] = process.argv.slice(2);
const SIZES = [[320, 568], [390, 844], [844, 390]];
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const program = process.env.PROGRAM;
let wrong = 0, looked = 0;
const expect = (good, what) => { if (!good) { wrong += 1; console.log(`WRONG ${what}`); } };
if (kept) mkdirSync(kept, { recursive: true });

const sharing = ["practice", "--share", "--share-control", "--plain"];
const walked = await start(program, [...sharing, "walked.jsonl"], { cwd: folder });
const all = await states(walked.url);
walked.child.kill();

// What a practice does not show: a link that is gone with a disk that is full, long names, and what a
// page says of itself.
const changed = (name, change) => { const shown = structuredClone(all.get(name)); change(shown.picture); return shown; };
all.set("no-signal", changed("climbing", (p) => Object.assign(p, {
  tone: "trouble", shape: "trouble", headline: "NO SIGNAL", next: "Nothing comes from the sensor: is it on? Wait for it, do not crank.",
  trouble: "Nothing is kept from here on: no space left on the device",
})));
all.set("long", changed("bleed", (p) => Object.assign(p, {
  engine: "Irrigation pump engine of the upper meadow", cylinder: ["cylinder", "left bank, number two from the fan"],
  run: "cylinder left bank, number two from the fan warm", number: "1234.5",
})));
all.set("waiting", { t_us: 0, picture: null, said: { count: 0, text: "", loud: false }, buttons: [], files: [] });
for (const own of ["full", "end", "cut-off"]) all.set(own, all.get("climbing"));

// Nothing comes but what is put before the page.
const stub = () => {
  window.EventSource = class extends EventTarget {
    constructor() {
      super();
      window.put = (kind, data) => this.dispatchEvent(new MessageEvent(kind, { data }));
      this.beats = setInterval(() => window.put("beat", ""), 500);
      setTimeout(() => window.put("hello", "3"));
    }
    close() { clearInterval(this.beats); }
  };
};
const tooWide = () => {
  const width = document.documentElement.clientWidth;
  const inside = document.querySelector("dialog[open]") ?? document.body;
  const out = (e) => { const r = e.getBoundingClientRect(); return r.width > 0 && !e.closest(".unseen") && (r.right > width + 1 || r.left < -1); };
  return [...inside.querySelectorAll("*")].filter(out).map((e) => e.outerHTML.slice(0, 80));
};

const { child, url } = await start(program, [...sharing, "shown.jsonl"], { cwd: folder });
const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  rules: { "doctype-style": "off", "no-trailing-whitespace": "off", "attribute-boolean-style": "off", "no-raw-characters": "off" },
});
const report = await validator.validateString(await (await fetch(url)).text());
const messages = report.results.flatMap((r) => r.messages).map((m) => `${m.line}: ${m.message} (${m.ruleId})`);
expect(messages.length === 0, `HTML: ${messages.join("; ")}`);

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
for (const colorScheme of ["light", "dark"]) {
  const context = await browser.newContext({ colorScheme, bypassCSP: true });
  await context.addInitScript(stub);
  for (const [name, shown] of all) {
    const page = await context.newPage();
    page.setDefaultTimeout(300_000);
    const said = [];
    page.on("console", (message) => { if (["error", "warning"].includes(message.type())) said.push(message.text()); });
    page.on("pageerror", (error) => said.push(String(error)));
    page.on("request", (request) => { if (!request.url().startsWith(new URL(url).origin)) said.push(`asks for ${request.url()}`); });
    if (name !== "cautions") await page.addInitScript(() => sessionStorage.setItem("heeded", location.pathname));
    await page.goto(url);
    await page.evaluate((data) => window.put("scene", data), JSON.stringify(shown));
    if (name === "full" || name === "end") await page.evaluate((kind) => window.put(kind, ""), name);
    if (name === "cut-off") {
      await page.evaluate(() => { window.EventSource = class extends EventTarget { close() {} }; window.put = () => {}; });
      await page.waitForFunction(() => document.body.classList.contains("stale"));
    }
    await page.evaluate(() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn))));
    for (const [width, height] of SIZES) {
      const where = `${name} at ${width}, ${colorScheme}`;
      await page.setViewportSize({ width, height });
      const out = await page.evaluate(tooWide);
      expect(out.length === 0, `${where}: wider than the screen: ${out.slice(0, 3)}`);
      await page.evaluate(axe);
      const { violations } = await page.evaluate((rules) => globalThis.axe.run(document, { runOnly: rules }), RULES);
      expect(violations.length === 0, `${where}: ${violations.map((v) => `${v.id}: ${v.nodes[0].html.slice(0, 120)}`).join("; ")}`);
      if (kept) await page.screenshot({ path: join(kept, `${name}-${width}-${colorScheme}.png`) });
      looked += 1;
    }
    expect(said.length === 0, `${name}, ${colorScheme}: ${said.join("; ")}`);
    await page.close();
  }
  await context.close();
}

// With its own policy in force, and alive: a press on the page does what the key does.
const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
const page = await context.newPage();
const said = [];
page.on("console", (message) => { if (["error", "warning"].includes(message.type())) said.push(message.text()); });
page.on("pageerror", (error) => said.push(String(error)));
await page.goto(url);
await page.click("#heed");
await page.waitForFunction(() => document.querySelector("#headline").textContent === "FIT & CRANK");
await page.click("[data-word=pause]");
await page.waitForFunction(() => document.querySelector("#headline").textContent === "PAUSE");
await page.click("[data-word=undo]");
await page.waitForFunction(() => document.querySelector("#headline").textContent === "FIT & CRANK");
// Once the computer is not heard any more the page says so, and shows the truth when it is back.
child.kill("SIGSTOP");
await page.waitForFunction(() => document.querySelector("#headline").textContent === "NO CONTACT");
expect(!(await page.isVisible("#number")), "an old number is shown");
child.kill("SIGCONT");
await page.waitForFunction(() => document.querySelector("#headline").textContent === "FIT & CRANK");
expect(said.length === 0, `alive: ${said.join("; ")}`);
await browser.close();
child.kill();
console.log(`${all.size} states, ${looked} screens, ${wrong} wrong`);
process.exitCode = wrong === 0 ? 0 : 1;
