/* Draws each figure on the page in the page's own colours, again when light turns to dark, and saves it as a picture. */
"use strict";
(() => {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(name).trim();
  const config = { displayModeBar: false, responsive: true };   /* the buttons below a chart save it: they have words */

  const NARROW = 500;   /* pixels, below which the names of seven days run into each other */
  const themed = (layout, width) => {
    const own = { ...layout };
    const axis = { gridcolor: colour("--line"), linecolor: colour("--line-strong"), tickfont: { color: colour("--ink") } };
    for (const name of Object.keys(own).filter((key) => /^[xy]axis\d*$/.test(key))) {
      own[name] = { ...own[name], ...axis };
      if (name[0] === "x" && own[name].nticks && width < NARROW) own[name].nticks = Math.min(own[name].nticks, 4);
    }
    own.font = { ...own.font, color: colour("--ink") };
    own.hoverlabel = { ...own.hoverlabel, bgcolor: colour("--card"), bordercolor: colour("--line-strong"), font: { color: colour("--ink") } };
    delete own.title;   /* the page shows it as the heading, where it wraps and is read aloud */
    return own;
  };

  const figureOf = (place) => JSON.parse(document.getElementById(place.dataset.figure).textContent);

  const places = () => [...document.querySelectorAll("[data-figure]")];

  const draw = () => Promise.all(places().map((place) => {
    const figure = figureOf(place);
    place.style.height = `${figure.layout.height}px`;   /* plotly.js forgets a height while it takes in a new width */
    return Plotly.react(place, figure.data, themed(figure.layout, place.clientWidth), config);
  }));

  /* A picture stands alone: its finding is written on it, over a ground of its own. */
  const wrapped = (text, most) => text.split(" ").reduce((lines, word) => {
    const last = lines[lines.length - 1];
    return last && `${last} ${word}`.length <= most ? [...lines.slice(0, -1), `${last} ${word}`] : [...lines, word];
  }, []);

  const save = async (button) => {
    const card = button.closest("figure"), place = card.querySelector("[data-figure]");
    const figure = figureOf(place), width = Math.max(640, place.clientWidth), format = button.dataset.save;
    const lines = wrapped(figure.layout.title.text, Math.floor(width / 9)), head = 22 * lines.length + 12;
    const layout = themed(figure.layout, width);
    layout.paper_bgcolor = colour("--card");
    layout.title = { text: lines.join("<br>"), x: 0, xref: "container", xanchor: "left", y: 1, yref: "container", yanchor: "top",
                     pad: { l: 12, t: 12 }, font: { size: 17, color: colour("--ink") } };
    const grown = place._fullLayout._size.t;   /* what the legend takes above the plot */
    layout.margin = { l: 16, r: 16, b: 16, ...layout.margin, t: head + Math.max(8, grown), autoexpand: true };
    const size = { format, width, height: place.clientHeight + head + 16, scale: format === "png" ? 2 : 1 };
    const link = document.createElement("a");
    link.href = await Plotly.toImage({ data: figure.data, layout, config }, size);
    link.download = `${place.dataset.figure.replace("figure-", "")}.${format}`;
    link.click();
  };

  draw();
  for (const button of document.querySelectorAll("[data-save]")) {
    button.hidden = false;
    button.addEventListener("click", () => save(button));
  }
  document.addEventListener("figures-changed", draw);   /* live.js put in newer ones */
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  matchMedia("print").addEventListener("change", async () => {   /* paper has another width, and other colours */
    await draw();
    places().forEach((place) => Plotly.Plots.resize(place));
  });
})();
