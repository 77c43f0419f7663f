/* Draws each figure on the page in the page's own colours, and again when light turns to dark. */
"use strict";
(() => {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const config = { displaylogo: false, responsive: true, modeBarButtons: [["toImage"]]   /* nothing that sends a figure elsewhere */ };

  const themed = (layout) => {
    const own = { ...layout };
    const axis = { gridcolor: colour("--line"), linecolor: colour("--line-strong"), tickfont: { color: colour("--ink") } };
    for (const name of Object.keys(own).filter((key) => /^[xy]axis\d*$/.test(key))) own[name] = { ...own[name], ...axis };
    own.font = { ...own.font, color: colour("--ink") };
    own.hoverlabel = { ...own.hoverlabel, bgcolor: colour("--card"), bordercolor: colour("--line-strong"), font: { color: colour("--ink") } };
    own.modebar = { bgcolor: "rgba(0,0,0,0)", color: colour("--quiet"), activecolor: colour("--accent") };
    delete own.title;   /* the page shows it as the heading, where it wraps and is read aloud */
    return own;
  };

  const draw = () => {
    for (const place of document.querySelectorAll("[data-figure]")) {
      const figure = JSON.parse(document.getElementById(place.dataset.figure).textContent);
      Plotly.react(place, figure.data, themed(figure.layout), config);
    }
  };

  draw();
  document.addEventListener("figures-changed", draw);   /* live.js put in newer ones */
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
})();
