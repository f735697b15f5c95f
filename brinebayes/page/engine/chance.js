// Uniform numbers that follow from a seed alone; bit for bit those of `network.chance`: SplitMix64.
// Source: Steele, Lea & Flood 2014 (from memory).

// The product of (ah, al) and (bh, bl) modulo 2^64, as [high, low] in PRODUCT; in words of 16 bits,
// so that everything stays a small whole number.
const PRODUCT = new Uint32Array(2);
function multiply(ah, al, bh, bl) {
  const a1 = al >>> 16;
  const a0 = al & 0xffff;
  const b1 = bl >>> 16;
  const b0 = bl & 0xffff;
  const low = Math.imul(a0, b0);
  const first = (Math.imul(a1, b0) + (low >>> 16)) | 0;
  const second = (Math.imul(a0, b1) + (first & 0xffff)) | 0;
  const carried = (Math.imul(a1, b1) + (first >>> 16) + (second >>> 16)) | 0;
  PRODUCT[1] = Math.imul(al, bl);
  PRODUCT[0] = (carried + Math.imul(ah, bl) + Math.imul(al, bh)) | 0;
}

class Chance {
  // `seeds`: whole numbers below 2^64.
  constructor(...seeds) {
    this.high = this.low = 0;
    for (const seed of seeds) {
      const whole = BigInt(seed);
      this.add(Number((whole >> 32n) & 0xffffffffn), Number(whole & 0xffffffffn));
      [this.high, this.low] = this.bits();
    }
  }

  add(high, low) {
    const sumLow = (this.low >>> 0) + low;
    this.high = (this.high + high + (sumLow > 0xffffffff ? 1 : 0)) | 0;
    this.low = sumLow | 0;
  }

  // The next 64 bits, into PRODUCT.
  step() {
    this.add(0x9e3779b9, 0x7f4a7c15);
    const h = this.high;
    const l = this.low;
    multiply(h ^ (h >>> 30), l ^ ((l >>> 30) | (h << 2)), 0xbf58476d, 0x1ce4e5b9);
    const g = PRODUCT[0];
    const k = PRODUCT[1];
    multiply(g ^ (g >>> 27), k ^ ((k >>> 27) | (g << 5)), 0x94d049bb, 0x133111eb);
    const f = PRODUCT[0];
    const j = PRODUCT[1];
    PRODUCT[0] = f ^ (f >>> 31);
    PRODUCT[1] = j ^ ((j >>> 31) | (f << 1));
  }

  // The next 64 bits as [high, low].
  bits() {
    this.step();
    return [...PRODUCT];
  }

  // Uniform in [0, 1), from the upper 53 bits.
  random() {
    return this.fill(ONE)[0];
  }

  // Leave out so many numbers.
  skip(count) {
    const steps = BigInt(count) * 0x9e3779b97f4a7c15n;
    this.add(Number((steps >> 32n) & 0xffffffffn), Number(steps & 0xffffffffn));
  }

  randoms(count) {
    return this.fill(new Float64Array(count));
  }

  fill(out) {
    for (let i = 0; i < out.length; i++) {
      this.step();
      out[i] = (PRODUCT[0] * 2097152 + (PRODUCT[1] >>> 11)) / 9007199254740992;
    }
    return out;
  }
}
const ONE = new Float64Array(1);
