// One number with its unit, as a technician writes it; see `physics.units`. The units themselves
// come with the model, so that no constant stands twice.

const LOOK_ALIKES = { "\u2212": "-", "\u03bc": "\u00b5", "\u00ba": "\u00b0", "\u2033": '"', "\u2032": "'" };
const plainText = (text) => [...text].map((c) => LOOK_ALIKES[c] ?? c).join("");

const toSi = (unit, number) => (number + unit.offset) * unit.scale;
const fromSi = (unit, value) => value / unit.scale - unit.offset;

// A number to so many significant digits, with a comma for every three places.
function shortNumber(value, digits = 3) {
  const text = String(Number(value.toPrecision(digits)));
  const [whole, part] = text.split(".");
  const spaced = /e/.test(text) ? text : whole.replace(/\B(?=(\d{3})+$)/g, ",");
  return part === undefined || /e/.test(text) ? spaced : `${spaced}.${part}`;
}
const shown = (unit, value, digits = 3) => `${shortNumber(fromSi(unit, value), digits)} ${unit.symbol}`;

function unitNamed(model, name) {
  const word = plainText(name).trim().split(/\s+/).join(" ").replace(/\s*\/\s*/g, "/");
  const spelled = (unit) => [unit.symbol, ...unit.spellings];
  const same = model.units.find((unit) => spelled(unit).includes(word));
  const low = word.toLowerCase();
  const found = same ?? model.units.find((unit) => spelled(unit).some((w) => w.toLowerCase() === low));
  if (!found) throw new UsageError(`unknown unit "${name}"`);
  return found;
}

const symbolsOf = (model, dimension) =>
  model.units.filter((u) => u.dimension === dimension).map((u) => u.symbol).join(", ");

const NUMBER =
  /^([+-]?)(?:(?:(\d+)[ -])?(\d+)\/(\d+)|((?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?))((?!\s*[-\d.,/])[\s\S]*)$/;

// {value (SI), unit, number}; throws UsageError with what would be right.
function parseQuantity(model, text, dimension = null, signed = false) {
  const given = plainText(text.trim());
  const refuse = (why) => {
    throw new UsageError(`"${text.trim()}": ${why}`);
  };
  const comma = /(\d+),(\d+)/.exec(given);
  if (comma) {
    const thousands = comma[2].length === 3 ? ` (or ${comma[1]}${comma[2]}, if that is meant)` : "";
    refuse(`write a decimal point and no comma: ${comma[1]}.${comma[2]}${thousands}`);
  }
  if (/^[\d.]+\s*(?:-|–|to|or)\s*[\d.]+(?![\d./])/.test(given)) {
    refuse("write the one number that was read, not a range");
  }
  const match = NUMBER.exec(given);
  const first = model.units.find((u) => u.dimension === dimension);
  if (!match) refuse(`write a plain number and its unit, such as 2 ${first ? first.symbol : "gpm"}`);
  const [, sign, whole, top, bottom, decimal, word] = match;
  const named = word.trim();
  if (!named) {
    const wanted = dimension ? `one of ${symbolsOf(model, dimension)}` : "it behind the number";
    refuse(`the unit is missing: write ${wanted}`);
  }
  const unit = unitNamed(model, named);
  if (dimension && unit.dimension !== dimension) {
    const right = symbolsOf(model, dimension);
    refuse(`${unit.symbol} is a ${unit.dimension}, and this is a ${dimension}: write one of ${right}`);
  }
  if (bottom !== undefined && Number(bottom) === 0) refuse("a fraction over zero is no number");
  const size = decimal !== undefined ? Number(decimal) : Number(whole ?? 0) + Number(top) / Number(bottom);
  const number = sign === "-" ? -size : size;
  const value = toSi(unit, number);
  if (!Number.isFinite(value)) refuse("the number is too large to be a reading");
  if (number < 0 && !signed && unit.dimension !== "temperature") {
    refuse(`a ${unit.dimension} cannot be negative here; write it without the minus`);
  }
  return { value, unit, number };
}
