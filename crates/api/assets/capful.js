// What makes the pages better where there is a script: steppers, and forms that wait for signal.
// Without it, everything works but that.
// What it says stands in the page, in data attributes of the body and of what waits.
"use strict";
(() => {
  const filled = (text, values) =>
    Object.entries(values).reduce((all, [name, value]) => all.replace(`{${name}}`, value), text);
  const texts = document.body.dataset;
  // Steppers: a field with data-step gets a button on either side.
  const places = (text) => (text.split(".")[1] || "").length;
  const step = (input, by) => {
    const one = Number(input.dataset.step || 1);
    const now = Number(input.value.replace(",", ".")) || 0;
    // To the next whole step: 246 becomes 250, and 0.56 of a cloth a whole one.
    const next = by > 0 ? Math.floor(now / one + 1e-9) + 1 : Math.ceil(now / one - 1e-9) - 1;
    input.value = String(Number(Math.max(0, next * one).toFixed(places(String(one)))));
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const button = (text, label, input, by) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "quiet";
    made.textContent = text;
    made.setAttribute("aria-label", label);
    made.addEventListener("click", () => step(input, by));
    return made;
  };
  for (const [place, input] of document.querySelectorAll("input[data-step]").entries()) {
    const label = input.labels[0];
    const name = (label?.textContent || "").trim();
    const row = document.createElement("span");
    row.className = "steps";
    const less = button("−", filled(texts.less, { name }), input, -1);
    const more = button("+", filled(texts.more, { name }), input, 1);
    if (label?.contains(input)) {
      // A label speaks for the first thing in it that can be pressed: the field stands beside it.
      const box = document.createElement("div");
      box.className = label.className;
      input.id ||= `step-${place}`;
      label.htmlFor = input.id;
      label.removeAttribute("class");
      label.replaceWith(box);
      box.append(label, row);
    } else {
      input.before(row);
    }
    row.append(less, input, more);
  }
  for (const zone of document.querySelectorAll("input[data-zone]")) {
    if (!zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  }
  for (const print of document.querySelectorAll("[data-print]")) {
    print.hidden = false;
    print.addEventListener("click", () => window.print());
  }

  // Forms that are kept where there is no signal, and sent in their order, each once: the key that
  // a form carries makes a second sending change nothing.
  const waiting = document.getElementById("waiting");
  const opened = () => new Promise((done, failed) => {
    const request = indexedDB.open("capful", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("kept", { autoIncrement: true });
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  const kept = async (mode, work) => {
    const base = await opened();
    return new Promise((done, failed) => {
      const change = base.transaction("kept", mode);
      const answer = work(change.objectStore("kept"));
      change.oncomplete = () => { base.close(); done(answer.result); };
      change.onabort = () => { base.close(); failed(change.error); };
    });
  };
  const all = async () => {
    const [keys, forms] = await Promise.all([
      kept("readonly", (store) => store.getAllKeys()),
      kept("readonly", (store) => store.getAll()),
    ]);
    return forms.map((form, at) => ({ ...form, id: keys[at] }));
  };
  const say = (text) => {
    waiting.hidden = !text;
    waiting.textContent = text;
  };
  // What is refused holds those behind it up, until somebody has looked and lets it go.
  const letGo = (form) => {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "quiet";
    made.textContent = filled(waiting.dataset.letGo, { name: form.name });
    made.addEventListener("click", async () => {
      await kept("readwrite", (store) => store.delete(form.id));
      await send();
    });
    waiting.append(made);
  };
  let next = 0;
  const tell = async () => {
    const forms = await all();
    const names = forms.map((form) => form.wrong ? `${form.name} (${form.wrong})` : form.name);
    say(forms.length ? filled(waiting.dataset.kept, { names: names.join(", ") }) : "");
    const [first] = forms;
    if (first?.wrong) letGo(first);
    // A phone need not notice that there is signal again.
    clearTimeout(next);
    if (first && !first.wrong) next = setTimeout(send, 10000);
  };
  let sending = false;
  const send = async () => {
    if (sending || !waiting) return;
    sending = true;
    let sent = 0;
    try {
      for (const form of await all()) {
        const who = await fetch("/session", { headers: { accept: "application/json" } });
        if (!who.ok || who.redirected) break;
        const { csrf, now } = await who.json();
        const fields = new URLSearchParams(form.body);
        if (fields.has("at") && !fields.get("at")) {
          // When it was, by the clock of the shop: a phone's own may be wrong. Told once, so that
          // a second sending says the same.
          const ahead = Date.now() - Date.parse(now);
          fields.set("at", new Date(Math.min(form.kept_at, Date.now()) - ahead).toISOString());
          form.body = fields.toString();
          const { id, ...rest } = form;
          await kept("readwrite", (store) => store.put(rest, id));
        }
        fields.set("csrf", csrf);
        const headers = { accept: "application/json" };
        const answer = await fetch(form.path, { method: "POST", body: fields, headers });
        if (answer.ok) {
          await kept("readwrite", (store) => store.delete(form.id));
          sent += 1;
          continue;
        }
        if (answer.status >= 500 || answer.status === 401 || answer.status === 409) break;
        // What is refused is not lost: it stays, with what is wrong, until somebody looks.
        const problem = await answer.json().catch(() => ({}));
        const { status } = answer;
        form.wrong = problem.detail || filled(waiting.dataset.refused, { status });
        const { id, ...rest } = form;
        await kept("readwrite", (store) => store.put(rest, id));
        break;
      }
    } catch (error) {
      // Still no signal.
    } finally {
      sending = false;
    }
    await tell();
    if (sent && !(await all()).length) {
      const { sentOne, sentAll } = waiting.dataset;
      say(sent === 1 ? sentOne : filled(sentAll, { count: sent }));
    }
  };
  const keep = async (form) => {
    const fields = new FormData(form);
    fields.delete("csrf");
    const entry = {
      kept_at: Date.now(),
      path: new URL(form.action).pathname,
      name: form.dataset.later,
      body: new URLSearchParams(fields).toString(),
    };
    await kept("readwrite", (store) => store.add(entry));
    form.querySelectorAll("button").forEach((one) => { one.disabled = true; });
    await tell();
    waiting.scrollIntoView({ block: "center" });
  };
  if (waiting && "indexedDB" in window) {
    // A phone may think that it has signal where it has none: the service is asked first.
    const answers = async () => {
      if (!navigator.onLine) return false;
      const ask = { cache: "no-store", signal: AbortSignal.timeout(4000) };
      return fetch("/healthz", ask).then((answer) => answer.ok, () => false);
    };
    document.addEventListener("submit", async (event) => {
      const form = event.target;
      if (!form.dataset.later || form.dataset.asked) return;
      event.preventDefault();
      if (!(await answers())) return keep(form);
      form.dataset.asked = "yes";
      form.requestSubmit(event.submitter);
      delete form.dataset.asked;
    });
    window.addEventListener("online", send);
    send().catch(() => {});
  }
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/worker.js").catch(() => {});
})();
