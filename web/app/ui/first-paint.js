// Runs before the first paint, as a classic script: puts the chosen theme and language on the page so
// that a dark house is not lit up by a white flash. state/ owns the values; this only reads them.
(() => {
  let theme = "auto";
  try {
    theme = localStorage.getItem("tepal.theme") ?? "auto";
    document.documentElement.lang = localStorage.getItem("tepal.language") ?? "en";
  } catch {
    // storage refused (private window): the light theme stands, and the app says what is wrong
  }
  // before any style sheet this is the size the person asked the browser for, 16 px where they did not
  const textPx = Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
  if (textPx >= 22) document.documentElement.dataset.text = "large";
  const isDark = theme === "auto" && matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.theme = isDark ? "dark" : theme === "auto" ? "light" : theme;
})();
