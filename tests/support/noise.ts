/**
 * A generator of standard normal numbers from a seed, for tests: mulberry32 (public domain) into the polar method of
 * Marsaglia. It shares nothing with the service.
 */
export function noise(seed: number): () => number {
  let state = seed >>> 0
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
  let spare: number | undefined
  return () => {
    if (spare !== undefined) {
      const value = spare
      spare = undefined
      return value
    }
    for (;;) {
      const u = 2 * uniform() - 1
      const v = 2 * uniform() - 1
      const s = u * u + v * v
      if (s > 0 && s < 1) {
        const scale = Math.sqrt((-2 * Math.log(s)) / s)
        spare = v * scale
        return u * scale
      }
    }
  }
}
