// A photo is drawn anew, small enough for the ledger, before it is sent. That also leaves out where it was taken.
"use strict";
(() => {
  const form = document.getElementById("photo");
  if (!form) return;
  const most = 512 * 1024; // bytes; what the service takes
  async function shrunk(file) {
    if (file.type === "image/png" && file.size <= most) return file;
    const image = await createImageBitmap(file);
    const canvas = document.createElement("canvas");
    for (let side = 1600, quality = 0.85; side >= 200; side *= 0.8, quality = Math.max(0.6, quality - 0.08)) {
      const scale = Math.min(1, side / Math.max(image.width, image.height));
      canvas.width = Math.max(1, Math.round(image.width * scale));
      canvas.height = Math.max(1, Math.round(image.height * scale));
      const c = canvas.getContext("2d");
      c.fillStyle = "#fff"; // a JPEG has no transparency
      c.fillRect(0, 0, canvas.width, canvas.height);
      c.drawImage(image, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
      if (blob && blob.size <= most) return blob;
    }
    throw new Error("it cannot be made small enough");
  }
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    const file = form.elements.file.files[0], button = form.querySelector("button");
    if (!file || button.disabled) return;
    button.disabled = true;
    thoudPage.say("Sending the photo …");
    try {
      let blob;
      try { blob = await shrunk(file); } catch (err) { thoudPage.say("This is no photo that can be kept: " + err.message); return; }
      const query = new URLSearchParams({ id: thoudPage.newId(), note: form.elements.note.value });
      const res = await fetch("/photo?" + query, { method: "POST", headers: { "Content-Type": blob.type }, body: blob });
      if (!res.ok) { thoudPage.say(await res.text()); return; }
      const answer = await res.json();
      thoudPage.say(answer.words);
      if (answer.ok) form.reset();
    } catch (err) { thoudPage.say("The photo was not sent: " + err.message); } finally { button.disabled = false; }
  });
})();
