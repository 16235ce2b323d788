// The sheet follows the unit; printing prints the sheet, not the page around it.

import { all, byId, one, system } from "./dom.js";
import { whenUnitChanges } from "./settings.js";

function show() {
  for (const element of all("[data-sheet]")) {
    const to = `${element.dataset.sheet}&system=${system()}`;
    if (element instanceof HTMLAnchorElement) element.href = to;
    else if (element.getAttribute("src") !== to) element.setAttribute("src", to);
  }
}

export function startSheet() {
  show();
  whenUnitChanges(show);
  one("[data-print]")?.addEventListener("click", () => {
    const frame = byId("sheet");
    if (frame instanceof HTMLIFrameElement && frame.contentWindow) frame.contentWindow.print();
    else print();
  });
}
