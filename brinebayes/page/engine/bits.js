// Sets of small numbers as words of 32 bits.

function emptySet(count) {
  return new Int32Array((count + 31) >>> 5 || 1);
}
const hasBit = (set, i) => (set[i >>> 5] >>> (i & 31)) & 1;
const addBit = (set, i) => {
  set[i >>> 5] |= 1 << (i & 31);
};
const dropBit = (set, i) => {
  set[i >>> 5] &= ~(1 << (i & 31));
};

function eachBit(set, f) {
  for (let w = 0; w < set.length; w++) {
    let word = set[w];
    while (word) {
      const low = word & -word;
      f((w << 5) + 31 - Math.clz32(low));
      word ^= low;
    }
  }
}

function bitsOf(set) {
  const found = [];
  eachBit(set, (i) => found.push(i));
  return found;
}

function countWord(v) {
  v -= (v >>> 1) & 0x55555555;
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return Math.imul((v + (v >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

function countBits(set) {
  let count = 0;
  for (let w = 0; w < set.length; w++) count += countWord(set[w]);
  return count;
}

function countCommon(a, b) {
  let count = 0;
  for (let w = 0; w < a.length; w++) count += countWord(a[w] & b[w]);
  return count;
}

// Whether every member of `a` is in `b`.
function isWithin(a, b) {
  for (let w = 0; w < a.length; w++) if (a[w] & ~b[w]) return false;
  return true;
}

const union = (a, b) => a.map((word, w) => word | b[w]);
const common = (a, b) => a.map((word, w) => word & b[w]);
const without = (a, b) => a.map((word, w) => word & ~b[w]);

// Entries of a table over the members of a set.
function tableSize(set, states) {
  let total = 1;
  eachBit(set, (i) => {
    total *= states[i];
  });
  return total;
}
