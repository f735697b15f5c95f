// Uniform numbers that follow from a seed alone; bit for bit those of `network.chance`: SplitMix64.
// Source: Steele, Lea & Flood 2014 (from memory).

// The high word of a product of two words of 32 bits.
function highWord(a, b) {
  const top = a * (b >>> 16) + Math.floor((a * (b & 0xffff)) / 65536);
  return Math.floor(top / 65536);
}

// The product of (ah, al) and (bh, bl) modulo 2^64, as [high, low] in PRODUCT.
const PRODUCT = new Uint32Array(2);
function multiply(ah, al, bh, bl) {
  PRODUCT[1] = Math.imul(al, bl);
  PRODUCT[0] = highWord(al, bl) + (Math.imul(ah, bl) >>> 0) + (Math.imul(al, bh) >>> 0);
}

class Chance {
  // `seeds`: whole numbers below 2^64.
  constructor(...seeds) {
    this.high = this.low = 0;
    for (const seed of seeds) {
      const whole = BigInt(seed);
      this.add(Number((whole >> 32n) & 0xffffffffn), Number(whole & 0xffffffffn));
      const [high, low] = this.bits();
      this.high = high;
      this.low = low;
    }
  }

  add(high, low) {
    const sumLow = this.low + low;
    this.high = (this.high + high + (sumLow > 0xffffffff ? 1 : 0)) >>> 0;
    this.low = sumLow >>> 0;
  }

  // The next 64 bits, into PRODUCT.
  step() {
    this.add(0x9e3779b9, 0x7f4a7c15);
    const [h, l] = [this.high, this.low];
    multiply(h ^ (h >>> 30), (l ^ ((l >>> 30) | (h << 2))) >>> 0, 0xbf58476d, 0x1ce4e5b9);
    const [g, k] = [PRODUCT[0], PRODUCT[1]];
    multiply(g ^ (g >>> 27), (k ^ ((k >>> 27) | (g << 5))) >>> 0, 0x94d049bb, 0x133111eb);
    const [f, j] = [PRODUCT[0], PRODUCT[1]];
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
    this.step();
    return (PRODUCT[0] * 2097152 + (PRODUCT[1] >>> 11)) / 9007199254740992;
  }

  randoms(count) {
    const out = new Float64Array(count);
    for (let i = 0; i < count; i++) out[i] = this.random();
    return out;
  }
}
