"use strict";
// Shows what it is sent, and nothing else: what to do, and every word, is decided where the terminal's
// gauge is.
(() => {
  const $ = (id) => document.getElementById(id);
  const control = document.body.dataset.control === "yes";
  const at = location.pathname.replace(/\/$/, "");
  // Without a word for so long (a sign of life comes each second), the page is cut off.
  const SILENT_MS = 2500;
  // A phone that is told there is no room asks again after so long.
  const FULL_MS = 5000;
  // What cannot be taken back is asked twice, within so long.
  const SURE_MS = 4000;

  let me = sessionStorage.getItem("phone");
  if (!me) {
    me = Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
    sessionStorage.setItem("phone", me);
  }

  let source = null;
  let heard = 0;
  let opened = 0;
  let over = false;
  let newest = null;
  let asked = 0;
  let said = null;
  let voice = false;

  function connect() {
    if (over) return;
    source?.close();
    opened = performance.now();
    source = new EventSource(`${at}/scene?phone=${me}`);
    source.addEventListener("hello", (e) => { hear(); who(`You are phone ${e.data}.`); });
    source.addEventListener("beat", hear);
    source.addEventListener("scene", (e) => { hear(); newest = e.data; draw(); });
    source.addEventListener("full", () => {
      source.close();
      cutOff("FULL", "Sixteen phones are looking already. Close the page on one of them; this one tries again by itself.");
      opened = performance.now() + FULL_MS;
    });
    source.addEventListener("end", () => {
      over = true;
      source.close();
      cutOff("ENDED", "The program on the computer has ended. Nothing is shown here any more.");
    });
  }

  function hear() { heard = performance.now(); }

  function who(text) {
    if ($("who").dataset.said !== text) {
      $("who").dataset.said = text;
      $("who").textContent = text + (control ? " This page has buttons." : " This page only shows.");
    }
  }

  // Nobody must crank by a picture that is old.
  function cutOff(headline, text) {
    newest = null;
    document.body.className = over ? "calm stale" : "trouble stale";
    shape(over ? "wait" : "trouble");
    words("headline", headline);
    $("headline").style.setProperty("--letters", headline.length);
    words("next", text);
    maybe("note", null);
    maybe("trouble", null);
    $("buttons").hidden = true;
  }

  setInterval(() => {
    const now = performance.now();
    if (over || now - heard < SILENT_MS) return;
    if (!document.body.classList.contains("stale") && heard > 0) {
      cutOff("NO CONTACT", "This page no longer hears the computer: do not go by it. Look at the computer, or come nearer.");
      speak("No contact with the computer.", true);
    }
    if (now - opened > SILENT_MS) connect();
  }, 500);

  // A phone that was asleep has an old picture and a connection of which it does not know whether it lives.
  const awake = () => { if (document.visibilityState === "visible") connect(); };
  document.addEventListener("visibilitychange", awake);
  addEventListener("pageshow", (e) => { if (e.persisted) awake(); });
  addEventListener("online", awake);

  function draw() {
    if (!asked) asked = requestAnimationFrame(() => { asked = 0; if (newest !== null) show(JSON.parse(newest)); });
  }

  function words(id, text) { if ($(id).textContent !== text) $(id).textContent = text; }

  function maybe(id, text) { $(id).hidden = !text; words(id, text || ""); }

  function shape(name) {
    const svg = document.querySelector("#banner svg");
    if (svg.getAttribute("class") !== name) svg.setAttribute("class", name);
  }

  function show(shown) {
    document.documentElement.dataset.tUs = shown.t_us;
    tell(shown.said);
    buttons(shown.buttons);
    files(shown.files);
    const p = shown.picture;
    if (!p) {
      document.body.className = "calm";
      shape("wait");
      words("headline", "WAIT");
      words("next", "Waiting for the sensor to be connected.");
      return;
    }
    const was = document.body.className;
    document.body.className = p.tone;
    if (p.tone === "stop" && was !== "stop") ring(true);
    words("engine", [p.engine, p.run, p.count].filter(Boolean).join(" · "));
    words("sensor", p.sensor);
    shape(p.shape);
    words("headline", p.headline);
    $("headline").style.setProperty("--letters", Math.max(p.headline.length, 4));
    words("next", p.next);
    maybe("trouble", p.trouble);
    maybe("note", p.note);
    figures(p);
    needle(p);
    runs(p.runs);
    cautions(p.cautions, p.begun);
  }

  function pair(id, is, value) {
    const [small, large] = $(id).children;
    if (small.textContent !== is) small.textContent = is;
    if (large.textContent !== value) large.textContent = value;
  }

  function figures(p) {
    $("cylinder").hidden = !p.cylinder;
    if (p.cylinder) {
      pair("cylinder", p.cylinder[0], p.cylinder[1]);
      $("cylinder").classList.toggle("long", p.cylinder[1].length > 3);
    }
    pair("number", p.caption, p.number);
    words("about", p.about.join(" · "));
  }

  const percent = (share) => `${100 * share}%`;

  function needle(p) {
    const n = p.needle;
    $("bar").style.transform = `scaleX(${n.now})`;
    place("target", n.target);
    place("limit", n.limit);
    const from = n.low ?? n.high;
    $("range").hidden = from === null;
    if (from !== null) {
      $("range").style.left = percent(from);
      $("range").style.right = percent(1 - (n.low === null || n.high === null ? 1 : n.high));
    }
    const numbers = n.numbers.map(([at, text]) => `${at} ${text}`).join();
    if ($("marks").dataset.numbers !== numbers) {
      $("marks").dataset.numbers = numbers;
      $("marks").replaceChildren(...n.numbers.map(([at, text]) => {
        const mark = document.createElement("span");
        mark.textContent = text;
        mark.style.left = percent(at);
        mark.classList.toggle("last", at > 0.93);
        return mark;
      }));
    }
    words("asked", n.none ?? (n.limit === null ? "Frame: normal." : from === null ? "Dashed: lowest allowed." : "Frame: normal. Dashed: lowest allowed."));
    const label = `${p.number} ${p.caption}`;
    if ($("scale").getAttribute("aria-label") !== label) $("scale").setAttribute("aria-label", label);
  }

  function place(id, share) {
    $(id).hidden = share === null;
    if (share !== null) $(id).style.left = `min(${percent(share)}, calc(100% - 5px))`;
  }

  function runs(all) {
    const made = JSON.stringify(all);
    if ($("runs").dataset.made === made) return;
    $("runs").dataset.made = made;
    $("runs").hidden = all.length === 0;
    $("runs").querySelector("ol").replaceChildren(...all.map((run) => {
      const item = document.createElement("li");
      item.className = run.state;
      const name = document.createElement("p");
      name.textContent = `${run.symbol} ${run.name}`;
      const columns = document.createElement("div");
      columns.className = "columns";
      columns.setAttribute("role", "img");
      columns.setAttribute("aria-label", run.columns.length === 1 ? "one stroke" : `${run.columns.length} strokes`);
      columns.append(...run.columns.slice(-24).map((share) => {
        const column = document.createElement("i");
        column.style.height = percent(share);
        return column;
      }));
      const value = document.createElement("p");
      value.textContent = run.value || "\u00a0";
      item.append(name, columns, value);
      return item;
    }));
  }

  // Cautions: in the way once, before anyone cranks; afterwards on the button.
  let heeded = sessionStorage.getItem("heeded") === at;
  let shownOnce = false;
  let waits = false;
  function cautions(waiting, begun) {
    waits = waiting;
    $("where").hidden = !waiting;
    if (!begun && !heeded && !shownOnce) $("cautions").showModal();
    shownOnce = true;
  }
  $("read").addEventListener("click", () => $("cautions").showModal());
  $("heed").addEventListener("click", () => {
    heeded = true;
    sessionStorage.setItem("heeded", at);
    $("cautions").close();
    if (waits && control) press("go");
  });

  function files(all) {
    const given = JSON.stringify(all);
    if ($("files").dataset.given === given) return;
    $("files").dataset.given = given;
    $("files").hidden = all.length === 0;
    $("files").querySelector("ul").replaceChildren(...all.map((file) => {
      const item = document.createElement("li");
      const link = document.createElement("a");
      link.href = `${at}/${encodeURIComponent(file.name)}`;
      link.textContent = file.what;
      if (file.name.endsWith(".jsonl")) link.download = file.name;
      item.append(link);
      return item;
    }));
  }

  // Buttons, where the page may have any.
  function buttons(all) {
    const given = JSON.stringify(all);
    $("buttons").hidden = all.length === 0;
    if ($("pressable").dataset.given === given) return;
    $("pressable").dataset.given = given;
    const focused = document.activeElement?.dataset?.word;
    $("pressable").replaceChildren(...all.map(button));
    if (focused) $("pressable").querySelector(`[data-word="${focused}"]`)?.focus();
    if (!all.some((one) => one.word === "name")) $("naming").hidden = true;
  }

  function button({ word, label, first }) {
    const made = document.createElement("button");
    made.type = "button";
    made.dataset.word = word;
    made.textContent = label[0].toUpperCase() + label.slice(1);
    made.classList.toggle("first", first);
    made.addEventListener("click", () => {
      if (word === "name") {
        $("naming").hidden = false;
        $("name").focus();
      } else if (word === "finish" && made.dataset.sure !== "yes") {
        made.dataset.sure = "yes";
        made.textContent = "Really finish?";
        setTimeout(() => { made.dataset.sure = ""; made.textContent = label; }, SURE_MS);
      } else {
        press(word);
      }
    });
    return made;
  }

  $("naming").addEventListener("submit", (e) => {
    e.preventDefault();
    const text = $("name").value.trim();
    if (text) press("name", text);
    $("naming").reset();
    $("naming").hidden = true;
  });
  $("drop").addEventListener("click", () => { $("naming").reset(); $("naming").hidden = true; });

  async function press(word, text) {
    words("answer", "");
    try {
      const body = JSON.stringify(text === undefined ? { phone: me, word } : { phone: me, word, text });
      const answer = await fetch(`${at}/press`, { method: "POST", headers: { "content-type": "application/json" }, body });
      if (!answer.ok) words("answer", `Not done: ${(await answer.text()).trim()}`);
    } catch {
      words("answer", "Not done: the computer cannot be reached.");
    }
  }

  // Sound and voice: a browser allows them only after a tap.
  let air = null;
  $("sound").addEventListener("click", () => {
    voice = !voice;
    $("sound").setAttribute("aria-pressed", String(voice));
    $("sound").textContent = `Sound and voice: ${voice ? "on" : "off"}`;
    if (voice) {
      air ??= window.AudioContext ? new AudioContext() : null;
      air?.resume();
      speak($("next").textContent, false);
      navigator.wakeLock?.request("screen").catch(() => {});
    } else {
      window.speechSynthesis?.cancel();
    }
  });

  function tell(now) {
    const before = said;
    said = now.count;
    // What was said before this page came is not said again.
    if (before === null || before === now.count || !now.text) return;
    $(now.loud ? "alarm" : "aloud").textContent = now.text;
    if (now.loud && !now.text.startsWith("Stop")) ring(false);
    speak(now.text, now.loud);
  }

  function speak(text, loud) {
    if (!voice || !window.speechSynthesis) return;
    if (loud) speechSynthesis.cancel();
    const utterance = new SpeechSynthesisUtterance(text);
    utterance.lang = "en";
    speechSynthesis.speak(utterance);
  }

  // Three tones for STOP, one low one for anything else that must not be missed.
  function ring(stop) {
    if (!voice) return;
    navigator.vibrate?.(stop ? [200, 100, 200, 100, 200] : 400);
    if (!air) return;
    for (let tone = 0; tone < (stop ? 3 : 1); tone++) {
      const begin = air.currentTime + 0.25 * tone;
      const sound = air.createOscillator();
      const loud = air.createGain();
      sound.type = "square";
      sound.frequency.value = stop ? 1000 : 400;
      loud.gain.setValueAtTime(0.3, begin);
      loud.gain.linearRampToValueAtTime(0, begin + 0.2);
      sound.connect(loud).connect(air.destination);
      sound.start(begin);
      sound.stop(begin + 0.2);
    }
  }

  connect();
})();
