// What only a clip from the front shows: its tables, and the legs over the picture.
import { drawn, fade } from "./colours.js";
import { h } from "./dom.js";

/** @import { FrontTable } from "api" */

/**
 * The table with its notes below.
 * @param {FrontTable} of
 */
export function frontTable(of) {
  const [head, ...rest] = of.head;
  return [
    h(
      "div",
      { class: "scroll", tabindex: "0", role: "group", "aria-label": of.title, data: { testid: "front-table" } },
      h(
        "table",
        { class: "sticky dense" },
        h(
          "thead",
          {},
          h(
            "tr",
            {},
            h("th", { scope: "col" }, head),
            rest.map((t) => h("th", { scope: "col" }, t)),
          ),
        ),
        h(
          "tbody",
          {},
          of.rows.map(([name, ...cells]) =>
            h(
              "tr",
              {},
              h("th", { scope: "row" }, name),
              cells.map((t) => h("td", {}, t)),
            ),
          ),
        ),
      ),
    ),
    of.notes.map((line) => h("p", { class: "help" }, line)),
  ];
}

const sides = ["left", "right"];

/** Draws both legs, the hips, and the line from each hip to its ankle; to maps a place of the picture to the canvas. */
export function drawLegs(c, motion, t, to, u, color) {
  const at = {};
  for (const side of sides)
    for (const name of ["hip", "knee", "ankle"]) {
      const p = motion.point(`${side}_${name}`, t);
      if (p) at[`${side}_${name}`] = to(p);
    }
  const line = (a, b, width, style, dash = []) => {
    if (!at[a] || !at[b]) return;
    c.setLineDash(dash);
    c.lineWidth = width * u;
    c.strokeStyle = style;
    c.beginPath();
    c.moveTo(...at[a]);
    c.lineTo(...at[b]);
    c.stroke();
  };
  c.lineCap = "round";
  const legs = [
    ["left_hip", "right_hip"],
    ...sides.flatMap((s) => [
      [`${s}_hip`, `${s}_knee`],
      [`${s}_knee`, `${s}_ankle`],
    ]),
  ];
  for (const [a, b] of legs) line(a, b, 4.2, fade(drawn.under, 0.5));
  for (const [a, b] of legs) line(a, b, 2.2, color);
  for (const side of sides) line(`${side}_hip`, `${side}_ankle`, 1.6, drawn.corrected, [3 * u, 4 * u]);
  c.setLineDash([]);
  for (const [x, y] of Object.values(at)) {
    c.beginPath();
    c.arc(x, y, 2.6 * u, 0, 2 * Math.PI);
    c.fillStyle = color;
    c.fill();
  }
  return at;
}
