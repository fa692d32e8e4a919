// Opens report pages in a real browser and measures what a reader would stumble over.
//
//   npm install
//   node check.mjs FOLDER-OF-PAGES [FOLDER-FOR-PICTURES]
//
// At phone, desktop and print size, light and dark: no console error, nothing wider than the
// page, no text of a plot over another or outside its plot, no violation that axe-core knows
// (WCAG 2.2 AA and best practice), the zoom works with the keyboard, and the page's numbers equal
// the JSON in it. The HTML itself is held against html-validate's standard rules. Needs a
// chromium; CHROMIUM says where, /usr/bin/chromium otherwise.
import { readdirSync, readFileSync, mkdirSync } from "node:fs";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { createRequire } from "node:module";
import { chromium } from "playwright-core";
import { HtmlValidate } from "html-validate";

const require = createRequire(import.meta.url);
const axeSource = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const [folder, pictures] = process.argv.slice(2);
if (!folder) {
  console.error("usage: node check.mjs FOLDER-OF-PAGES [FOLDER-FOR-PICTURES]");
  process.exit(2);
}
if (pictures) mkdirSync(pictures, { recursive: true });

const SIZES = [
  { name: "small-phone", width: 320, height: 640 },
  { name: "phone", width: 390, height: 844 },
  { name: "tablet", width: 768, height: 1024 },
  { name: "desktop", width: 1280, height: 900 },
  { name: "a4", width: 794, height: 1123, print: true },
  { name: "letter", width: 816, height: 1056, print: true },
];
let checks = 0;
const faults = [];
const expect = (good, what) => {
  checks += 1;
  if (!good) faults.push(what);
};

// Runs in the page: what sticks out of it sideways, and texts of plots that collide.
const measure = () => {
  const wide = document.documentElement.scrollWidth > document.documentElement.clientWidth;
  const culprits = !wide ? [] : [...document.querySelectorAll("body *")]
    .filter((e) => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
    .slice(0, 3).map((e) => `${e.tagName}.${e.getAttribute("class") ?? ""}`);
  const collisions = [];
  for (const plot of document.querySelectorAll("svg.plot, svg.standalone, body > svg")) {
    const box = plot.getBoundingClientRect();
    const texts = [...plot.querySelectorAll("text")].map((e) => [e.textContent, e.getBoundingClientRect()]);
    texts.forEach(([text, a], n) => {
      if (a.left < box.left - 1 || a.right > box.right + 1 || a.top < box.top - 1 || a.bottom > box.bottom + 1) {
        collisions.push(`"${text}" leaves its plot`);
      }
      for (const [other, b] of texts.slice(n + 1)) {
        const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        // A line box is taller than its letters by about a third.
        if (across > 0.5 && down > Math.min(a.height, b.height) * 0.3) collisions.push(`"${text}" lies over "${other}"`);
      }
    });
  }
  return { culprits, collisions };
};

// Runs in the page: numbers that differ from the JSON at the place they name.
const numbers = () => {
  const json = JSON.parse(document.getElementById("findings").textContent);
  const at = (pointer) => pointer.split("/").slice(1).reduce((v, key) => v?.[key], json);
  const all = [...document.querySelectorAll("data[data-from]")];
  return { count: all.length, wrong: all.filter((e) => at(e.dataset.from) !== Number(e.value)).map((e) => e.dataset.from) };
};

const zoomWorks = async (page) => {
  const button = page.locator(".trace .zoom button").first();
  if ((await button.count()) === 0) return true;
  const view = () => page.locator(".trace .win").first().getAttribute("viewBox");
  const whole = await view();
  await button.focus();
  await page.keyboard.press("+");
  const near = await view();
  await page.keyboard.press("0");
  return near !== whole && (await view()).split(" ").map(Number).join() === whole.split(" ").map(Number).join();
};

const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  // White space at line ends comes from the template and means nothing; the style of attributes
  // and the place of scripts are taste.
  rules: { "no-trailing-whitespace": "off", "no-inline-style": "off", "long-title": "off", "attribute-boolean-style": "off", "no-raw-characters": "off" },
});

// In sheets of a height that any machine can draw.
const photograph = async (page, width, path) => {
  const sheet = 2400, height = await page.evaluate(() => document.documentElement.scrollHeight);
  await page.setViewportSize({ width, height: Math.min(sheet, height) });
  for (let n = 0; n * sheet < height && n < 4; n += 1) {
    await page.evaluate((y) => window.scrollTo(0, y), n * sheet);
    await page.screenshot({ path: `${path}-${n + 1}.png` });
  }
};

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
for (const file of readdirSync(folder).filter((name) => /\.(html|svg)$/.test(name)).sort()) {
  const place = resolve(folder, file), isPage = file.endsWith(".html");
  if (isPage) {
    const report = await validator.validateFile(place);
    const messages = report.results.flatMap((r) => r.messages).map((m) => `${m.line}: ${m.message} (${m.ruleId})`);
    expect(messages.length === 0, `${file}: HTML: ${messages.slice(0, 5).join("; ")}`);
  }
  for (const size of isPage ? SIZES : [{ name: "800", width: 820, height: 900 }]) {
    for (const colorScheme of size.print || !isPage ? ["light"] : ["light", "dark"]) {
      const where = `${file} at ${size.name}, ${colorScheme}`;
      const context = await browser.newContext({ viewport: { width: size.width, height: size.height }, colorScheme, bypassCSP: true });
      const page = await context.newPage();
      // A machine may be busy; no time is measured here.
      page.setDefaultTimeout(300_000);
      const said = [];
      page.on("console", (message) => { if (["error", "warning"].includes(message.type())) said.push(message.text()); });
      page.on("pageerror", (error) => said.push(String(error)));
      page.on("request", (request) => { if (!request.url().startsWith("file:")) said.push(`asks for ${request.url()}`); });
      await page.goto(pathToFileURL(place).href);
      if (size.print) {
        await page.emulateMedia({ media: "print" });
        const hidden = () => [...document.querySelectorAll("details.always")].filter((e) => e.lastElementChild.getBoundingClientRect().height < 5).length;
        expect((await page.evaluate(hidden)) === 0, `${where}: what was set by hand is folded away on paper`);
        const unsaid = () => [...document.querySelectorAll("details:not(.always) > summary")].filter((e) => !getComputedStyle(e, "::after").content.includes("not printed")).length;
        expect((await page.evaluate(unsaid)) === 0, `${where}: left out on paper without a word`);
      }
      await page.evaluate(() => document.querySelectorAll("details").forEach((e) => { e.open = true; }));
      const { culprits, collisions } = await page.evaluate(measure);
      expect(culprits.length === 0, `${where}: wider than the page: ${culprits}`);
      expect(collisions.length === 0, `${where}: ${collisions.slice(0, 3).join("; ")}`);
      if (isPage) {
        if (!size.print) {
          await page.evaluate(axeSource);
          const { violations } = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
          expect(violations.length === 0, `${where}: ${violations.map((v) => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 120)}`).join("; ")}`);
          if (await page.locator(".trace").count()) expect(await zoomWorks(page), `${where}: zoom by keyboard`);
        } else if (pictures && size.print) {
          const format = size.name === "a4" ? "A4" : "Letter";
          await page.pdf({ path: join(pictures, `${file}-${size.name}.pdf`), format, printBackground: false, preferCSSPageSize: false });
        }
        if (await page.locator("#findings").count()) {
          const { count, wrong } = await page.evaluate(numbers);
          expect(count > 0 && wrong.length === 0, `${where}: numbers unlike the JSON: ${wrong.slice(0, 3)}`);
        }
      }
      expect(said.length === 0, `${where}: console: ${said.slice(0, 3).join("; ")}`);
      if (pictures) await photograph(page, size.width, join(pictures, `${file}-${size.name}-${colorScheme}`));
      await context.close();
    }
  }
}
// The page's own content security policy lets its script run: with nothing bypassed, zoom appears.
const strict = await (await browser.newContext()).newPage();
for (const file of readdirSync(folder).filter((name) => name.endsWith(".html"))) {
  const said = [];
  strict.removeAllListeners("console");
  strict.on("console", (message) => said.push(message.text()));
  await strict.goto(pathToFileURL(resolve(folder, file)).href);
  const live = await strict.evaluate(() => !document.querySelector("script:not([type])") || document.documentElement.classList.contains("live"));
  expect(said.length === 0 && live, `${file}: under its own policy: ${said.join("; ")}`);
}
await browser.close();
for (const fault of faults) console.log(`FAULT ${fault}`);
console.log(`${checks - faults.length} passed, ${faults.length} failed`);
process.exit(faults.length === 0 ? 0 : 1);
