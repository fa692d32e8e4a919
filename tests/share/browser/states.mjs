// Goes through a practice visit by the buttons of the page, and keeps a picture of every state.
import { spawn } from "node:child_process";

/// Starts the program; gives it, and where its gauge is shared.
export async function start(program, args, options = {}) {
  const child = spawn(program, args, { stdio: ["pipe", "pipe", "pipe"], ...options });
  child.stdout.resume();
  const url = await new Promise((found, lost) => {
    let said = "";
    child.stderr.on("data", (piece) => {
      said += piece;
      const shared = said.match(/http:\/\/\S+/);
      if (shared) found(shared[0]);
    });
    child.on("exit", (code) => lost(new Error(`ended with ${code}: ${said}`)));
  });
  return { child, url };
}

/// Presses a button as the page does.
export async function press(url, phone, word, text) {
  const body = JSON.stringify(text === undefined ? { phone, word } : { phone, word, text });
  const headers = { "content-type": "application/json", origin: new URL(url).origin };
  const answer = await fetch(`${url}/press`, { method: "POST", headers, body });
  if (!answer.ok) throw new Error(`${word}: ${answer.status} ${await answer.text()}`);
}

/// Reads pictures as they come, and gives each to `seen`, until that gives true.
export async function follow(url, phone, seen) {
  const answer = await fetch(`${url}/scene?phone=${phone}`);
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    text += value;
    const events = text.split("\n\n");
    text = events.pop();
    for (const event of events) {
      const [, kind, data] = event.match(/^event: (\w+)\ndata: (.*)$/) ?? [];
      if (kind === "scene" && await seen(JSON.parse(data))) {
        await reader.cancel();
        return;
      }
    }
  }
}

/// Every state of a practice visit, by name.
export async function states(url) {
  const kept = new Map();
  const phone = "walker";
  let last = "", kicked = 0, paused = 0;
  const keep = (name, shown) => { if (!kept.has(name)) kept.set(name, shown); };
  await follow(url, phone, async (shown) => {
    const p = shown.picture;
    if (!p) return false;
    const words = new Map(shown.buttons.map((button) => [button.word, button.label]));
    const fresh = p.headline !== last;
    last = p.headline;
    const now = Date.now();
    if (p.is === "oil") keep("oil", shown);
    switch (p.headline) {
      case "READ FIRST": keep("cautions", shown); if (fresh) await press(url, phone, "go"); break;
      case "ZERO": keep("zero", shown); break;
      case "FIT & CRANK":
        keep("ready", shown);
        if (paused === 0) { paused = 1; await press(url, phone, "pause"); break; }
        if (now - kicked > 900) { kicked = now; await press(url, phone, p.is === "oil" ? "oil" : "kick"); }
        break;
      case "PAUSE": keep("pause", shown); if (fresh) await press(url, phone, "undo"); break;
      case "CRANK": case "CRANK ON":
        if (p.about.length) keep("climbing", shown);
        if (now - kicked > 900) { kicked = now; await press(url, phone, "kick"); }
        break;
      case "STOP": keep("stop", shown); break;
      case "BLEED": keep("bleed", shown); if (now - kicked > 900) { kicked = now; await press(url, phone, "bleed"); } break;
      case "RUNS MADE": keep("offer", shown); if (fresh) await press(url, phone, "finish"); break;
      case "FINISHED": keep("finished", shown); if (shown.files.length) { kept.set("files", shown); return true; } break;
      default: keep(p.headline.toLowerCase().replaceAll(" ", "-"), shown);
    }
    return false;
  });
  return kept;
}
