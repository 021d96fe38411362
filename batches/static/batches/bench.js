/* The bench goes on without a network. What is recorded is kept on the device under its entry key first, then
   sent; where nobody answers it waits, to be seen, and is sent when somebody does. The key makes a second
   arrival harmless. Without this script every form works as a form. */
(() => {
  "use strict";
  const STORE = "stillroom-bench:" + location.pathname;
  const AGAIN = 15000;
  const forms = document.querySelectorAll("form[data-bench]");
  const box = document.getElementById("bench-queue");
  const data = document.getElementById("bench-data");
  if (!forms.length || !box) { return; }
  const part = (name) => box.querySelector(`[data-queue=${name}]`);
  const slot = (name) => document.querySelector(`[data-slot=${name}]`);
  const lines = data ? JSON.parse(data.textContent) : [];
  const weighForm = document.querySelector("form[data-bench=weigh]");
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
      item.classList.toggle("quiet", waiting.has(item.dataset.line));
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
    try { answer = await post(entry, late); } catch { return { away: true, text: `No network since ${clock(new Date())}. ` }; }
    const kind = answer.headers.get("Content-Type") || "";
    if (!answer.ok || !kind.startsWith("application/json")) {
      return { away: true, text: "The workshop's machine did not take it. Load this page again, and sign in where it asks. " };
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
        if (found.away) { said = found.text + "These are sent by themselves when it is back, once each."; break; }
        said = "";
        if (found.written) { sent += 1; drop(entry.key); } else {
          save(load().map((one) => (one.key === entry.key ? { ...one, sentences: found.sentences } : one)));
        }
      }
    } finally { sending = false; }
    show();
    if (sent && load().every((entry) => entry.sentences)) { location.assign(location.pathname); }
  };

  /* -- one line at a time, also while nobody answers -------------------------------------------- */
  const turnTo = (line) => {
    if (!weighForm || !line) { return; }
    slot("where").textContent = (line.phase ? `Phase ${line.phase}, ` : "") + `line ${line.position}`;
    slot("name").textContent = line.name;
    slot("target").textContent = line.target;
    slot("within").textContent = line.within;
    const first = line.lots[0];
    slot("lot").replaceChildren(cell("b", first ? first.text : "No usable lot known here. Scan or type one."));
    slot("lots").replaceChildren(...line.lots.map((lot, place) => {
      const label = cell("label", "", "tick");
      const input = document.createElement("input");
      input.type = "radio"; input.name = "lot"; input.value = lot.code; input.checked = place === 0;
      label.append(input, " ", cell("span", lot.text));
      return label;
    }));
    weighForm.elements.line.value = line.line;
    weighForm.dataset.low = line.low;
    weighForm.dataset.high = line.high;
    document.querySelectorAll("[data-line]").forEach((item) => {
      item.classList.toggle("here", item.dataset.line === String(line.line));
    });
    clear(weighForm);
    weighForm.elements.grams.focus();
  };
  const clear = (form) => {
    form.querySelectorAll("input:not([type=hidden]):not([type=radio]):not([type=checkbox])").forEach((field) => { field.value = ""; });
    form.querySelectorAll("input[type=checkbox]").forEach((field) => { field.checked = false; });
    form.querySelector("[name$=entry_key]").value = newKey();
    if (slot("hint")) { slot("hint").textContent = ""; }
  };
  const nextLine = () => {
    const waiting = new Set(load().map((entry) => entry.fields.line));
    return lines.find((line) => !line.weighed && !waiting.has(String(line.line)));
  };
  document.querySelectorAll("[data-line] a").forEach((link) => {
    link.addEventListener("click", (event) => {
      if (load().length === 0 || !weighForm) { return; }
      const line = lines.find((one) => String(one.line) === link.closest("[data-line]").dataset.line);
      if (line) { event.preventDefault(); turnTo(line); }
    });
  });

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
      const queue = load();
      const behind = queue.some((one) => !one.sentences);
      if (!queue.some((one) => one.key === entry.key)) { queue.push(entry); }
      if (!save(queue)) { form.submit(); return; }
      const found = behind ? { away: true, text: said } : await send(entry, false);
      if (found.written) { drop(entry.key); location.assign(location.pathname + (weighs ? "" : location.search)); return; }
      if (!found.away) { drop(entry.key); form.submit(); return; }
      said = found.text;
      if (weighs && nextLine()) { turnTo(nextLine()); } else { clear(form); }
      show();
      if (behind) { sendAll(); }
    });
  });

  /* -- what is typed, against what is wanted ---------------------------------------------------- */
  const read = (text, mark) => {
    const plain = text.replace(/[\s\u202f\u00a0]/g, "").replace(mark, ".");
    return /^\d+(\.\d+)?$/.test(plain) ? Number(plain) : null;
  };
  if (weighForm && slot("hint")) {
    weighForm.elements.grams.addEventListener("input", () => {
      const { low, high, mark } = weighForm.dataset;
      const grams = read(weighForm.elements.grams.value, mark);
      const write = (value) => String(Math.round(value * 10000) / 10000).replace(".", mark);
      if (grams === null) { slot("hint").textContent = ""; return; }
      if (grams > Number(high)) { slot("hint").textContent = `${write(grams - Number(high))} g more than is within. Take some out, or say why.`; }
      else if (grams < Number(low)) { slot("hint").textContent = `${write(Number(low) - grams)} g less than is within.`; }
      else { slot("hint").textContent = `${write(grams)} is within.`; }
    });
  }

  part("send").addEventListener("click", sendAll);
  window.addEventListener("online", sendAll);
  window.setInterval(() => { if (load().some((entry) => !entry.sentences)) { sendAll(); } }, AGAIN);
  show();
  if (load().some((entry) => !entry.sentences)) { sendAll(); }
})();
