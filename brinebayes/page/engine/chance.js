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

  // The next 64 bits as [high, low].
  bits() {
    this.add(0x9e3779b9, 0x7f4a7c15);
    let [h, l] = [this.high, this.low];
    multiply(h ^ (h >>> 30), (l ^ ((l >>> 30) | (h << 2))) >>> 0, 0xbf58476d, 0x1ce4e5b9);
    [h, l] = PRODUCT;
    multiply(h ^ (h >>> 27), (l ^ ((l >>> 27) | (h << 5))) >>> 0, 0x94d049bb, 0x133111eb);
    [h, l] = PRODUCT;
    return [(h ^ (h >>> 31)) >>> 0, (l ^ ((l >>> 31) | (h << 1))) >>> 0];
  }

  // Uniform in [0, 1), from the upper 53 bits.
  random() {
    const [high, low] = this.bits();
    return (high * 2097152 + (low >>> 11)) / 9007199254740992;
  }

  randoms(count) {
    const out = new Float64Array(count);
    for (let i = 0; i < count; i++) out[i] = this.random();
    return out;
  }
}
