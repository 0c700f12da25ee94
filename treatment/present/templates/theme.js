(() => {
  // Light, dark or as the system: chosen once, remembered for all pages of this kind on this machine.
  const KEY = "treatment-colours";
  const box = document.getElementById("theme");
  const root = document.documentElement;
  const dress = (choice) => {
    if (choice === "light" || choice === "dark") root.dataset.theme = choice;
    else delete root.dataset.theme;
    document.dispatchEvent(new Event("themechange"));
  };
  const isDark = () => {
    const chosen = root.dataset.theme;
    return chosen ? chosen === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  };
  // A colour made for light paper, lightened on a dark ground until it stands out 3 to 1 (WCAG 2.1, 1.4.11).
  const light = (c) => c.map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = light([0x3a, 0x42, 0x48].map((v) => v / 255)); // the lightest of the dark walls
  const onPaper = (hex) => {
    if (!isDark()) return hex;
    let c = [1, 3, 5].map((i) => parseInt(hex.slice(i, i + 2), 16) / 255);
    while ((light(c) + 0.05) / (ground + 0.05) < 3) c = c.map((v) => v + 0.08 * (1 - v));
    return `#${c.map((v) => Math.round(v * 255).toString(16).padStart(2, "0")).join("")}`;
  };
  globalThis.colours = { isDark, onPaper };
  if (!box) return;
  let kept = "";
  try { kept = localStorage.getItem(KEY) || ""; } catch { /* a page without storage follows the system */ }
  box.value = ["light", "dark"].includes(kept) ? kept : "";
  box.closest("[hidden]")?.removeAttribute("hidden");
  dress(box.value);
  box.addEventListener("change", () => {
    dress(box.value);
    try { localStorage.setItem(KEY, box.value); } catch { /* then it holds for this page only */ }
  });
})();
