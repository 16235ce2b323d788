// The page of the plans: a plan that is cut to an engine, or sent as a file, is kept.

import { say } from "./dom.js";

/** @param {SubmitEvent} event */
async function submit(event) {
  const form = event.target instanceof HTMLFormElement ? event.target : null;
  if (!form?.dataset.plan) return;
  event.preventDefault();
  /** @type {Record<string, unknown>} */
  const what = {};
  /** @type {Record<string, string>} */
  const choices = {};
  for (const [key, value] of new FormData(form)) {
    if (value instanceof File) what.text = await value.text();
    else if (key.startsWith("choice ")) choices[key.slice("choice ".length)] = value;
    else what[key] = value;
  }
  if (form.dataset.plan === "cut") what.choices = choices;
  try {
    const reply = await fetch("/plans", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });
    if (!reply.ok) {
      say(await reply.text(), true);
      return;
    }
    const answer = await reply.json();
    if (answer.ok) location.href = "/plans";
    else say(answer.words, true);
  } catch (error) {
    say(`The plan was not kept: ${error instanceof Error ? error.message : error}`, true);
  }
}

document.addEventListener("submit", submit);
