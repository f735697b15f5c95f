// Where a visit stands: which rules hold, what is believed, how the unit stands, what is open.

class Situation {
  constructor(model, routes, state) {
    this.model = model;
    this.state = state;
    this.routes = routes;
    this.notes = firedRules(model, state);
    const doubts = [...doubtedBy(this.notes)];
    this.leftOut = sorted(doubts.filter((name) => timesSeen(state, name) === 1));
    const asked = toQuestion(model, state);
    const seen = asked.seen.filter((one) => !this.leftOut.includes(one.observation));
    this.question = { ...asked, seen };
    this.start = standingSetup(model, routes, state);
    this.acts = openActs(model, state, routes, this.start, this.notes);
    this.blocked = blockedBy(state, this.notes);
  }

  get belief() {
    this.believed ??= believe(this.model, this.question);
    return this.believed;
  }

  // Observations whose answer is in the belief already: a repeat would say the same.
  get answered() {
    if (!this.settled) {
      const now = this.question.done.length;
      const made = this.question.seen.filter((one) => one.epoch === now).map((one) => one.observation);
      const all = [...outlineOf(this.model).observations.keys(), PROOF];
      const sure = all.filter((name) => Math.max(...this.belief.outcomes(name)) > 1 - 1e-12);
      this.settled = new Set([...made, ...sure]);
    }
    return this.settled;
  }

  worlds(rows) {
    return this.belief.worlds(rows, seedOf(this.model, this.question));
  }
}

// --- the seed that Python takes: SHA-256 of how it writes what is known ------------------------

// A number as Python writes it.
function pythonNumber(value) {
  if (Number.isInteger(value) && Math.abs(value) < 1e16) return `${Object.is(value, -0) ? "-0" : value}.0`;
  const size = Math.abs(value);
  const [mantissa, exponent] = value.toExponential().split("e");
  if (size >= 1e-4 && size < 1e16) return String(value);
  const digits = String(Math.abs(Number(exponent))).padStart(2, "0");
  return `${mantissa}e${Number(exponent) < 0 ? "-" : "+"}${digits}`;
}

const pythonTuple = (items) => `(${items.join(", ")}${items.length === 1 ? "," : ""})`;
const pythonText = (text) => `'${text}'`;

function seedOf(model, { site, complaints, done, seen }) {
  const latest = new Map();
  for (const one of seen) latest.set(`${String(one.epoch).padStart(6, "0")} ${one.observation}`, one);
  const places = sorted(site.keys()).map((k) => pythonTuple([k, site.get(k)].map(pythonText)));
  const answers = sorted(latest.keys()).map((key) => {
    const { epoch, observation, likelihood } = latest.get(key);
    const numbers = pythonTuple(Array.from(likelihood, (p) => pythonNumber(Number(p.toFixed(9)))));
    return pythonTuple([pythonTuple([epoch, pythonText(observation)]), numbers]);
  });
  const known = pythonTuple([
    `[${places.join(", ")}]`,
    `[${sorted(complaints).map(pythonText).join(", ")}]`,
    pythonTuple(done.map(pythonText)),
    `[${answers.join(", ")}]`,
  ]);
  const digest = sha256(new TextEncoder().encode(pythonTuple([pythonText(model.hash), known])));
  return (BigInt(digest[0]) << 32n) | BigInt(digest[1]);
}

// The eight words of a SHA-256 digest. Source: FIPS 180-4 (from memory), checked in the tests.
function sha256(bytes) {
  const primes = [];
  for (let n = 2; primes.length < 64; n++) if (primes.every((p) => n % p)) primes.push(n);
  const part = (root) => Math.floor((root - Math.floor(root)) * 4294967296);
  const hash = Uint32Array.from(primes.slice(0, 8), (p) => part(Math.sqrt(p)));
  const constants = Uint32Array.from(primes, (p) => part(Math.cbrt(p)));
  const length = (((bytes.length + 8) >> 6) + 1) << 6;
  const padded = new Uint8Array(length);
  padded.set(bytes);
  padded[bytes.length] = 128;
  const view = new DataView(padded.buffer);
  view.setUint32(length - 4, bytes.length * 8);
  const turn = (x, n) => (x >>> n) | (x << (32 - n));
  const w = new Int32Array(64);
  for (let from = 0; from < length; from += 64) {
    for (let i = 0; i < 16; i++) w[i] = view.getInt32(from + 4 * i);
    for (let i = 16; i < 64; i++) {
      const s0 = turn(w[i - 15], 7) ^ turn(w[i - 15], 18) ^ (w[i - 15] >>> 3);
      const s1 = turn(w[i - 2], 17) ^ turn(w[i - 2], 19) ^ (w[i - 2] >>> 10);
      w[i] = w[i - 16] + s0 + w[i - 7] + s1;
    }
    let [a, b, c, d, e, f, g, h] = hash;
    for (let i = 0; i < 64; i++) {
      const s1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25);
      const t1 = (h + s1 + ((e & f) ^ (~e & g)) + constants[i] + w[i]) | 0;
      const s0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22);
      const t2 = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [h, g, f, e, d, c, b, a] = [g, f, e, (d + t1) | 0, c, b, a, (t1 + t2) | 0];
    }
    [a, b, c, d, e, f, g, h].forEach((word, i) => {
      hash[i] += word;
    });
  }
  return hash;
}
