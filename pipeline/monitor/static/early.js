// Before the page is drawn: unit and light or dark as chosen on this screen, so that nothing flickers. No module, because
// a module waits until the page is there.
"use strict";
(() => {
  const root = document.documentElement;
  try {
    const unit = localStorage.getItem("unit");
    const theme = localStorage.getItem("theme");
    if (unit === "mm" || unit === "inch") root.dataset.unit = unit;
    if (theme === "light" || theme === "dark") root.dataset.theme = theme;
  } catch {
    // no storage: as the page comes
  }
})();
