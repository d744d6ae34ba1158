// The colours that the scripts draw with. They are written once, in css/tokens.css.

/** A token's value now: some differ between light and dark. */
export const token = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

/** A colour of six digits, let through by the part that is missing to 1. */
export const fade = (colour, part) =>
  colour +
  Math.round(255 * part)
    .toString(16)
    .padStart(2, "0");

/** On the stage, which is dark in both themes. */
export const stage = {
  ink: token("stage-ink"),
  quiet: token("stage-quiet"),
  line: token("stage-line"),
  accent: token("stage-accent"),
};

/** Of a tempo's band on the stage. */
export const stageTempos = {
  slow: token("stage-slow"),
  fast: token("stage-fast"),
  jump: token("stage-jump"),
};

/** Of a joint, and of the trunk. */
export const jointColours = {
  ankle: token("ankle"),
  knee: token("knee"),
  hip: token("hip"),
  shoulder: token("shoulder"),
  elbow: token("elbow"),
  trunk: token("trunk"),
};

/** Of what lies over the picture, whatever the picture is. */
export const drawn = {
  line: token("drawn"),
  ground: token("drawn-ground"),
  under: token("drawn-under"),
  corrected: token("drawn-corrected"),
  second: token("drawn-second"),
  strip: token("drawn-strip"),
  stripMiddle: token("drawn-strip-middle"),
  blur: token("drawn-blur"),
};
