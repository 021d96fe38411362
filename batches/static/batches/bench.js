/* The bench goes on without a network. What is recorded is kept on the device under its entry key first, then
   sent; where nobody answers it waits, to be seen, and is sent when somebody does. The key makes a second
   arrival harmless. Without this script every form works as a form. */
(() => {
  "use strict";
  const AGAIN = 15000;
  const forms = document.querySelectorAll("form[data-bench]");
  const box = document.getElementById("bench-queue");
  const data = document.getElementById("bench-data");
  if (!forms.length || !box) { return; }
  /* The bench's own address: a form that came back stands at the address that it was sent to. */
  const { here } = box.dataset;
  const STORE = "stillroom-bench:" + here;
  const part = (name) => box.querySelector(`[data-queue=${name}]`);
  const slot = (name) => document.querySelector(`[data-slot=${name}]`);
  const lines = data ? JSON.parse(data.textContent) : [];
  const weighForm = document.querySelector("form[data-bench=weigh]");
  const potForm = document.querySelector("form[data-bench=pot]");
  let sending = false;
  let said = "";

  /* -- what waits ------------------------------------------------------------------------------ */
  const load = () => {
    try { return JSON.parse(localStorage.getItem(STORE)) || []; } catch { return []; }
  };
  const save = (queue) => {
    try { localStorage.setItem(STORE, JSON.stringify(queue)); return true; } catch { return false; }
  };
  const drop = (key) => save(load().filter((entry) => entry.key !== key));
  const clock = (iso) => new Date(iso).toTimeString().slice(0, 5);
  const newKey = () => {
    /* randomUUID is missing where the page came over plain http, as it does on a workshop's own network. */
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  };
  const cell = (tag, text, name) => {
    const made = document.createElement(tag);
    made.textContent = text;
    if (name) { made.className = name; }
    return made;
  };
  const show = () => {
    const queue = load();
    const refused = queue.filter((entry) => entry.sentences).length;
    box.hidden = queue.length === 0;
    part("title").textContent = queue.length === 1 ? "1 entry waits on this device" : `${queue.length} entries wait on this device`;
    part("say").textContent = said || (refused
      ? "What could not be written down stands here with its reason. Weigh it again, or take it off this list."
      : "Sent by themselves when the network is back, once each.");
    part("list").replaceChildren(...queue.map((entry) => {
      const item = document.createElement("li");
      const words = cell("span", entry.words);
      if (entry.sentences) {
        words.append(document.createElement("br"), cell("small", entry.sentences.join(" ")));
        const button = cell("button", "Take it off this list", "do bare");
        button.type = "button";
        button.addEventListener("click", () => { drop(entry.key); show(); });
        words.append(" ", button);
      }
      item.append(cell("span", clock(entry.at), "num"), words, cell("span", entry.sentences ? "Not written" : "Waiting", "st"));
      return item;
    }));
    const waiting = new Set(queue.map((entry) => entry.fields.line));
    document.querySelectorAll("[data-line]").forEach((item) => {
      const waits = waiting.has(item.dataset.line);
      item.classList.toggle("quiet", waits);
      item.querySelectorAll(":scope > .num").forEach((figures) => { figures.hidden = waits; });
      const word = item.querySelector(":scope > .st");
      if (waits && !word) { item.append(cell("span", "Waiting", "st")); }
      if (!waits && word) { word.remove(); }
    });
  };

  /* -- sending --------------------------------------------------------------------------------- */
  const token = () => document.querySelector("[name=csrfmiddlewaretoken]").value;
  const post = (entry, late) => {
    const body = new URLSearchParams(entry.fields);
    body.set("csrfmiddlewaretoken", token());
    if (late) { body.set(entry.prefix + "occurred_at", entry.at); }
    return fetch(entry.url, {
      method: "POST", body, headers: { Accept: "application/json" }, credentials: "same-origin", redirect: "error",
    });
  };
  /* written, refused (with sentences), or away: nobody answered. */
  const send = async (entry, late) => {
    let answer;
    try { answer = await post(entry, late); } catch {
      return { away: true, text: `No network since ${clock(new Date())}. These are sent by themselves when it is back, once each.` };
    }
    const kind = answer.headers.get("Content-Type") || "";
    if (!answer.ok || !kind.startsWith("application/json")) {
      return { away: true, text: "The workshop's machine did not take it. Load this page again, and sign in where it asks." };
    }
    return answer.json();
  };
  const sendAll = async () => {
    if (sending) { return; }
    sending = true;
    let sent = 0;
    try {
      for (const entry of load()) {
        if (entry.sentences) { continue; }
        const found = await send(entry, true);
        if (found.away) { said = found.text; break; }
        said = "";
        if (found.written) { sent += 1; drop(entry.key); } else {
          save(load().map((one) => (one.key === entry.key ? { ...one, sentences: found.sentences } : one)));
        }
      }
    } finally { sending = false; }
    show();
    if (sent && load().every((entry) => entry.sentences)) { location.assign(here); }
  };

  /* -- what is typed, against what is wanted: as the server judges it, in its words --------------- */
  /* Grams are whole ten-thousandths here, so that sums are exact and at a limit is within it. */
  const PARTS = 10000;
  const parts = (text) => Math.round(Number(text) * PARTS);
  const figure = (value) => String(value / PARTS);
  const read = (text, mark) => {
    const plain = (text || "").replace(/[\s\u202f\u00a0]/g, "").replace(mark, ".");
    return /^\d+(\.\d{1,4})?$/.test(plain) ? parts(plain) : null;
  };
  const gramsOf = (fields) => {
    const { mark } = weighForm.dataset;
    if ((fields.grams || "").trim()) { return read(fields.grams, mark); }
    const gross = read(fields.gross, mark);
    const tare = read(fields.tare, mark);
    return gross === null || tare === null ? null : gross - tare;
  };
  const queued = (line) => load().filter((entry) => !entry.sentences && entry.fields.line === String(line.line));
  const held = (line) => queued(line).reduce((sum, entry) => sum + (gramsOf(entry.fields) || 0), 0);
  const judge = (line, grams) => {
    const { low, high, zero, over, under } = line.judge;
    const all = grams + held(line);
    const off = figure(Math.abs(all - parts(zero)));
    if (all > parts(high)) { return { verdict: "over", text: over.replace("{}", off) }; }
    if (all < parts(low)) { return { verdict: "under", text: under.replace("{}", off) }; }
    return { verdict: "within", text: `${figure(grams)} g is within.` };
  };
  const lineNow = () => lines.find((line) => String(line.line) === weighForm.elements.line.value);
  /* What the server would refuse of a weighing, as far as a device can know: a sentence for each field. */
  const refusals = (fields) => {
    const { noGrams, noLot, sayWhy } = weighForm.dataset;
    const found = {};
    if (!(fields.scan || fields.lot || "").trim()) { found.scan = noLot; }
    const empty = ["grams", "gross", "tare"].filter((name) => !(fields[name] || "").trim());
    if (empty.includes("grams") && empty.length > 1) { found.grams = noGrams; }
    const grams = gramsOf(fields);
    if (grams !== null && lineNow() && !(fields.why || "").trim()) {
      const { verdict, text } = judge(lineNow(), grams);
      if (verdict === "over" || (verdict === "under" && !fields.more_follows)) { Object.assign(found, { grams: text, why: sayWhy }); }
    }
    return found;
  };
  const forgive = (form) => {
    form.querySelectorAll(".form-notice, .wrong").forEach((node) => { node.remove(); });
    form.querySelectorAll("[aria-invalid]").forEach((field) => {
      field.removeAttribute("aria-invalid");
      const rest = (field.getAttribute("aria-describedby") || "").split(" ").filter((name) => name && !name.endsWith("_error"));
      if (rest.length) { field.setAttribute("aria-describedby", rest.join(" ")); } else { field.removeAttribute("aria-describedby"); }
    });
  };
  const refuse = (form, found) => {
    forgive(form);
    if (slot("hint")) { slot("hint").textContent = ""; }
    Object.entries(found).forEach(([name, sentence]) => {
      const field = form.elements[name];
      const said = document.getElementById("bench-wrong").content.firstElementChild.cloneNode(true);
      said.id = `${field.id}_error`;
      said.querySelector("span").textContent = sentence;
      (field.closest(".entry-row") || field.closest(".with-unit") || field).after(said);
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", `${field.getAttribute("aria-describedby") || ""} ${said.id}`.trim());
      for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) { fold.open = true; }
    });
    form.querySelector("[aria-invalid]").focus();
  };

  /* -- one line at a time, also while nobody answers -------------------------------------------- */
  const shown = (value, mark) => (Math.max(value, 0) / PARTS).toFixed(4).replace(/0{1,3}$/, "").replace(".", mark);
  const turnTo = (line) => {
    if (!weighForm || !line) { return; }
    const { mark } = weighForm.dataset;
    const waits = held(line);
    const [low, high, todo] = [line.judge.low, line.judge.high, line.judge.zero].map((text) => shown(parts(text) - waits, mark));
    slot("where").textContent = (line.phase ? `Phase ${line.phase}, ` : "") + `line ${line.position}`;
    slot("name").textContent = line.name;
    slot("target").textContent = !waits ? line.target : line.ranges ? `${low}–${high}` : todo;
    slot("within").textContent = waits ? `${low} to ${high}` : line.within;
    slot("held").textContent = waits ? `; ${shown(waits, mark)} g wait on this device` : line.held;
    const first = line.lots[0];
    slot("lot").replaceChildren(cell("b", first ? first.text : "No usable lot known here. Scan or type one."));
    slot("lots").replaceChildren(...line.lots.map((lot, place) => {
      const label = cell("label", "", "tick");
      const input = document.createElement("input");
      input.type = "radio"; input.name = "lot"; input.value = lot.code; input.checked = place === 0;
      label.append(input, " ", cell("span", lot.text));
      return label;
    }));
    slot("small").textContent = line.small;
    if (weighForm.elements.scale) { weighForm.elements.scale.value = line.scale; }
    weighForm.elements.line.value = line.line;
    if (potForm && potForm.elements.at_line) { potForm.elements.at_line.value = line.position; }
    document.querySelectorAll("[data-line]").forEach((item) => {
      const here = item.dataset.line === String(line.line);
      item.classList.toggle("here", here);
      if (here) { item.setAttribute("aria-current", "step"); } else { item.removeAttribute("aria-current"); }
    });
    if (slot("gate")) {
      slot("gate").replaceChildren(...(line.gate
        ? [cell("span", `Before it goes in. ${line.gate.where}`, "plain quiet"), cell("span", line.gate.words, "gate-now")]
        : ["The pot"]));
    }
    document.querySelectorAll("[data-slot=gate-wait]").forEach((node) => { node.remove(); });
    document.querySelectorAll("[data-bench-part]").forEach((node) => { node.hidden = false; });
    clear(weighForm);
    weighForm.querySelectorAll("details").forEach((fold) => { fold.open = fold.contains(slot("lots")) && !first; });
    weighForm.elements.grams.focus();
  };
  const clear = (form) => {
    forgive(form);
    document.querySelectorAll("[data-said]").forEach((node) => { node.remove(); });
    form.querySelectorAll("input:not([type=hidden]):not([type=radio]):not([type=checkbox])").forEach((field) => { field.value = ""; });
    form.querySelectorAll("input[type=checkbox]").forEach((field) => { field.checked = false; });
    form.querySelector("[name$=entry_key]").value = newKey();
    if (form === weighForm && slot("hint")) { slot("hint").textContent = ""; }
  };
  const isIn = (line) => {
    const mine = queued(line);
    return mine.some((entry) => !entry.fields.more_follows) || (mine.length > 0 && judge(line, 0).verdict !== "under");
  };
  const nextLine = () => lines.find((line) => line.waits && !isIn(line));
  const rest = () => {
    clear(weighForm);
    slot("where").textContent = "";
    slot("name").textContent = "Nothing is left to weigh here";
    document.querySelectorAll("[data-bench-part]").forEach((node) => { node.hidden = true; });
  };
  document.querySelectorAll("[data-line] a").forEach((link) => {
    link.addEventListener("click", (event) => {
      if (!weighForm || (navigator.onLine && load().length === 0)) { return; }
      const line = lines.find((one) => String(one.line) === link.closest("[data-line]").dataset.line);
      if (line) { event.preventDefault(); turnTo(line); }
    });
  });

  const kept = (place, words) => {
    [slot("kept"), slot("pot-kept")].forEach((node) => { if (node) { node.textContent = ""; } });
    if (place) { place.textContent = `Kept on this device: ${words}.`; }
  };

  /* -- recording ------------------------------------------------------------------------------- */
  forms.forEach((form) => {
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const weighs = form === weighForm;
      const fields = Object.fromEntries(new FormData(form).entries());
      delete fields.csrfmiddlewaretoken;
      const prefix = weighs ? "" : "pot-";
      const typed = weighs ? (fields.grams || fields.gross || "") + " g" : fields["pot-value"] + " °C";
      const entry = {
        key: fields[prefix + "entry_key"], url: form.action, fields, prefix, at: new Date().toISOString(),
        words: weighs ? `${slot("name").textContent} ${typed}, ${fields.scan || fields.lot || "no lot"}` : `Pot ${typed}`,
      };
      const wrong = weighs ? refusals(fields) : {};
      const queue = load();
      const behind = queue.some((one) => !one.sentences);
      if (!queue.some((one) => one.key === entry.key)) { queue.push(entry); }
      if (!save(queue)) { form.submit(); return; }
      const found = behind ? { away: true, text: "" } : await send(entry, false);
      if (found.written) {
        drop(entry.key);
        location.assign(here + (!weighs && fields.at_line ? `?line=${fields.at_line}` : ""));
        return;
      }
      if (!found.away) { drop(entry.key); form.submit(); return; }
      said = found.text || said;
      delete form.dataset.sent;
      if (Object.keys(wrong).length) { drop(entry.key); refuse(form, wrong); show(); return; }
      if (!weighs) { clear(form); } else if (nextLine()) { turnTo(nextLine()); } else { rest(); }
      kept(weighs ? slot("kept") : slot("pot-kept"), entry.words);
      show();
      if (behind) { sendAll(); }
    });
  });

  if (weighForm && slot("hint")) {
    weighForm.elements.grams.addEventListener("input", () => {
      const grams = read(weighForm.elements.grams.value, weighForm.dataset.mark);
      const line = lineNow();
      slot("hint").textContent = grams === null || !line ? "" : judge(line, grams).text;
    });
  }

  part("send").addEventListener("click", sendAll);
  window.addEventListener("online", sendAll);
  window.setInterval(() => { if (load().some((entry) => !entry.sentences)) { sendAll(); } }, AGAIN);
  show();
  if (load().some((entry) => !entry.sentences)) { sendAll(); }
})();
