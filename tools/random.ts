/** Pseudorandom numbers, the same in every run: a 32-bit multiply-and-shift generator. */
export function randomFrom(start: number) {
  let state = start >>> 0
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0
    let x = Math.imul(state ^ (state >>> 15), state | 1)
    x ^= x + Math.imul(x ^ (x >>> 7), x | 61)
    return ((x ^ (x >>> 14)) >>> 0) / 2 ** 32
  }
  /** Standard normal, by the polar form of Box and Muller. */
  const normal = (): number => {
    for (;;) {
      const x = 2 * uniform() - 1
      const y = 2 * uniform() - 1
      const square = x * x + y * y
      if (square > 0 && square < 1) return x * Math.sqrt((-2 * Math.log(square)) / square)
    }
  }
  const between = (min: number, max: number) => min + (max - min) * uniform()
  return { uniform, normal, between }
}
