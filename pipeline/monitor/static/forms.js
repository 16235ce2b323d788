// Forms that ask the bench: a build to start, a gauge to register. And long work, which tells how far it is.

import { around, byId } from "./dom.js";
import { ask } from "./verbs.js";

/** The gauge that listening has found. @type {Record<string, string> | null} */
let found = null;

/** @param {SubmitEvent} event */
async function submit(event) {
  const form = event.target instanceof HTMLFormElement ? event.target : null;
  if (!form?.dataset.ask) return;
  event.preventDefault();
  const data = Object.fromEntries(new FormData(form));
  /** @type {Record<string, unknown>} */
  const what = { verb: form.dataset.ask };
  if (what.verb === "gauge-add") what.register = { ...(found?.port === data.port ? found : {}), ...data, sense: Number(data.sense) };
  else Object.assign(what, data);
  const answer = await ask(what);
  if (answer?.ok && form.dataset.go) location.href = form.dataset.go;
}

/** @param {MouseEvent} event */
async function click(event) {
  const listen = around(event, "[data-identify]");
  if (listen) {
    const form = /** @type {HTMLFormElement | null} */ (byId("register"));
    const typed = form?.elements.namedItem("port");
    const port = listen.dataset.identify || (typed instanceof HTMLInputElement ? typed.value.trim() : "");
    if (!port && typed instanceof HTMLInputElement) {
      typed.focus(); // nothing to listen at yet
      return;
    }
    await longWork("/identify", { port }, `Listening at ${port}`, (done) => {
      found = done.gauge;
      if (!found || !form) return "Nothing was found";
      for (const key of ["name", "port", "profile", "role", "channel"]) {
        const input = form.elements.namedItem(key);
        if (found[key] && (input instanceof HTMLInputElement || input instanceof HTMLSelectElement)) input.value = found[key];
      }
      const name = form.elements.namedItem("name");
      if (name instanceof HTMLInputElement) name.focus();
      return `Found: ${found.profile}. Give it a name and register it.`;
    });
    return;
  }
  const keeping = around(event, "[data-keep]");
  if (keeping) await longWork(`/keep/${keeping.dataset.keep}`, {}, `${keeping.textContent} …`, (done) => done.words);
}

/**
 * Carries out long work: the service tells how far it is, one JSON object a line, the last with what came of it.
 * @param {string} path
 * @param {object} body
 * @param {string} begins
 * @param {(done: any) => string} done
 */
async function longWork(path, body, begins, done) {
  const box = byId("working");
  const words = byId("work-words");
  const bar = /** @type {HTMLProgressElement | null} */ (byId("work-progress"));
  if (!box || !words || !bar) return;
  box.hidden = false;
  bar.hidden = false;
  box.scrollIntoView({ block: "nearest" });
  words.textContent = begins;
  bar.removeAttribute("value");
  try {
    const reply = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
    if (!reply.ok || !reply.body) {
      words.textContent = await reply.text();
      return;
    }
    const reader = reply.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    for (;;) {
      const part = await reader.read();
      if (part.done) return;
      const lines = (rest + part.value).split("\n");
      rest = lines.pop() ?? "";
      for (const line of lines) {
        const told = JSON.parse(line);
        if ("total" in told) {
          bar.max = told.total || 1;
          bar.value = told.done;
          words.textContent = told.words;
        } else {
          bar.value = bar.max;
          words.textContent = told.fault ?? done(told);
        }
      }
    }
  } catch (error) {
    words.textContent = `It was cut short: ${error instanceof Error ? error.message : error}`;
  } finally {
    bar.hidden = true; // what came of it is said in words
  }
}

export function startForms() {
  document.addEventListener("submit", submit);
  document.addEventListener("click", click);
}
