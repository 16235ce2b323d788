// A photo is drawn anew, small enough for the ledger, before it is sent. That also leaves out where it was taken.

import { say } from "./dom.js";
import { newId } from "./verbs.js";

const form = /** @type {HTMLFormElement | null} */ (document.getElementById("photo"));
const most = 512 * 1024; // bytes; what the service takes

/**
 * @param {File} file
 * @returns {Promise<Blob>}
 */
async function shrunk(file) {
  if (file.type === "image/png" && file.size <= most) return file;
  const image = await createImageBitmap(file);
  const canvas = document.createElement("canvas");
  let quality = 0.85;
  for (let side = 1600; side >= 200; side *= 0.8) {
    const scale = Math.min(1, side / Math.max(image.width, image.height));
    canvas.width = Math.max(1, Math.round(image.width * scale));
    canvas.height = Math.max(1, Math.round(image.height * scale));
    const context = canvas.getContext("2d");
    if (!context) break;
    context.fillStyle = "#fff"; // a JPEG has no transparency
    context.fillRect(0, 0, canvas.width, canvas.height);
    context.drawImage(image, 0, 0, canvas.width, canvas.height);
    /** @type {Blob | null} */
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
    if (blob && blob.size <= most) return blob;
    quality = Math.max(0.6, quality - 0.08);
  }
  throw new Error("it cannot be made small enough");
}

/**
 * @param {File} file
 * @param {string} note
 */
async function send(file, note) {
  /** @type {Blob} */
  let blob;
  try {
    blob = await shrunk(file);
  } catch (error) {
    say(`This is no photo that can be kept: ${error instanceof Error ? error.message : error}`, true);
    return;
  }
  try {
    const query = new URLSearchParams({ id: newId(), note });
    const reply = await fetch(`/photo?${query}`, { method: "POST", headers: { "Content-Type": blob.type }, body: blob });
    if (!reply.ok) {
      say(await reply.text(), true);
      return;
    }
    const answer = await reply.json();
    say(answer.words, !answer.ok);
    if (answer.ok) form?.reset();
  } catch (error) {
    say(`The photo was not sent: ${error instanceof Error ? error.message : error}`, true);
  }
}

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const file = /** @type {HTMLInputElement} */ (form.elements.namedItem("file")).files?.[0];
  const note = /** @type {HTMLInputElement} */ (form.elements.namedItem("note")).value;
  const button = form.querySelector("button");
  if (!file || !button || button.disabled) return;
  button.disabled = true;
  say("Sending the photo …");
  try {
    await send(file, note);
  } finally {
    button.disabled = false;
  }
});
