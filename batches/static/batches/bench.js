// The bench keeps working without a network: what is recorded waits on the device under its entry key and is
// sent when the network is back. The key makes a second arrival harmless. Without this script the forms work as forms.
(() => {
  "use strict";
  const STORE = "stillroom-bench:" + location.pathname;
  const forms = document.querySelectorAll("form[data-bench]");
  const box = document.getElementById("bench-queue");
  if (!forms.length || !box) return;
  const list = box.querySelector("[data-queue-list]");
  const title = box.querySelector("[data-queue-title]");
  let sending = false;

  const load = () => {
    try { return JSON.parse(localStorage.getItem(STORE)) || []; } catch { return []; }
  };
  const save = (queue) => {
    try { localStorage.setItem(STORE, JSON.stringify(queue)); return true; } catch { return false; }
  };
  const show = () => {
    const queue = load();
    box.hidden = queue.length === 0;
    title.textContent = queue.length === 1 ? "1 entry waits on this device" : `${queue.length} entries wait on this device`;
    list.replaceChildren(...queue.map((entry) => {
      const item = document.createElement("li");
      const at = document.createElement("time");
      at.textContent = entry.at;
      const text = document.createElement("p");
      text.textContent = entry.words + (entry.sentences ? ": " + entry.sentences.join(" ") : "");
      item.append(at, text);
      if (entry.sentences) {
        const drop = document.createElement("button");
        drop.type = "button";
        drop.className = "do bare";
        drop.textContent = "Take it off this list";
        drop.addEventListener("click", () => { save(load().filter((one) => one.key !== entry.key)); show(); });
        text.append(" ", drop);
      }
      return item;
    }));
  };
  const token = () => document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
  const post = (entry) => {
    const body = new URLSearchParams(entry.fields);
    body.set("csrfmiddlewaretoken", token());
    return fetch(entry.url, { method: "POST", body, headers: { Accept: "application/json" }, credentials: "same-origin" });
  };
  const sendAll = async () => {
    if (sending) return;
    sending = true;
    let sent = 0;
    try {
      for (const entry of load()) {
        if (entry.sentences) continue;
        let answer;
        try { answer = await post(entry); } catch { break; }
        if (!answer.ok) break;
        const found = await answer.json();
        const queue = load();
        if (found.written) {
          sent += 1;
          save(queue.filter((one) => one.key !== entry.key));
        } else {
          save(queue.map((one) => (one.key === entry.key ? { ...one, sentences: found.sentences } : one)));
        }
        show();
      }
    } finally { sending = false; }
    if (sent && load().length === 0) location.reload();
  };
  forms.forEach((form) => {
    form.addEventListener("submit", async (event) => {
      const fields = Object.fromEntries(new FormData(form).entries());
      const entry = {
        key: Object.entries(fields).find(([name]) => name.endsWith("entry_key"))?.[1] || String(Date.now()),
        url: form.action,
        fields,
        at: new Date().toTimeString().slice(0, 5),
        words: form.dataset.what + " " + (fields.grams ? fields.grams + " g" : (fields["pot-value"] || "") + " °C"),
      };
      if (navigator.onLine && load().length === 0) return;
      event.preventDefault();
      const queue = load();
      if (!queue.some((one) => one.key === entry.key)) queue.push(entry);
      if (!save(queue)) { form.submit(); return; }
      show();
      form.querySelectorAll("input:not([type=hidden]):not([type=radio])").forEach((field) => { field.value = ""; });
      const key = form.querySelector("[name$=entry_key]");
      if (key && crypto.randomUUID) key.value = crypto.randomUUID();
      await sendAll();
    });
  });
  box.querySelector("[data-queue-send]").addEventListener("click", sendAll);
  window.addEventListener("online", sendAll);
  show();
  if (navigator.onLine) sendAll();
})();
