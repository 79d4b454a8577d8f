import { within } from '../errors.js'

const SIZE = 624
const MIDDLE = 397

/**
 * The Mersenne Twister MT19937: the same seed gives the same numbers on every machine.
 *
 * M. Matsumoto, T. Nishimura, "Mersenne Twister: a 623-dimensionally equidistributed uniform pseudo-random number
 * generator", ACM TOMACS 8 (1998); initialization of 2002. The tests check the output
 * that ISO/IEC 14882 [rand.predef] publishes.
 */
export class MersenneTwister {
  private readonly state = new Uint32Array(SIZE)
  private index = SIZE
  private spare = Number.NaN

  /** @param seed - Whole number, 0 to 2³² − 1 */
  constructor(seed: number) {
    const { state } = this
    state[0] = seed
    for (let i = 1; i < SIZE; i++) {
      const before = state[i - 1]! ^ (state[i - 1]! >>> 30)
      state[i] = Math.imul(1_812_433_253, before) + i
    }
  }

  private twist(): void {
    const { state } = this
    for (let i = 0; i < SIZE; i++) {
      const y = (state[i]! & 0x8000_0000) | (state[(i + 1) % SIZE]! & 0x7fff_ffff)
      state[i] = state[(i + MIDDLE) % SIZE]! ^ (y >>> 1) ^ ((y & 1) * 0x9908_b0df)
    }
    this.index = 0
  }

  /** Next output: a whole number, 0 to 2³² − 1. */
  next(): number {
    if (this.index === SIZE) this.twist()
    let y = this.state[this.index++]!
    y ^= y >>> 11
    y ^= (y << 7) & 0x9d2c_5680
    y ^= (y << 15) & 0xefc6_0000
    y ^= y >>> 18
    return y >>> 0
  }

  /** Uniform, 0 <= u < 1. */
  uniform(): number {
    return this.next() / 4_294_967_296
  }

  /** Normal with mean 0 and variance 1, by the Box–Muller transform (1958). */
  normal(): number {
    if (!Number.isNaN(this.spare)) {
      const spare = this.spare
      this.spare = Number.NaN
      return spare
    }
    // 1 − u is never zero, so the logarithm is finite.
    const radius = Math.sqrt(-2 * Math.log(1 - this.uniform()))
    const angle = 2 * Math.PI * this.uniform()
    this.spare = radius * Math.sin(angle)
    return radius * Math.cos(angle)
  }
}

/**
 * A random number generator with a seed.
 *
 *     MT19937: x(k+n) = x(k+m) ⊕ (upper bit of x(k) | lower bits of x(k+1))·A, tempered
 *
 * n = 624, m = 397; A is a bit matrix.
 *
 * @param seed - Whole number. [0 .. 2³² − 1]
 * @returns Generator; its 10 000th output with seed 5489 is 4123659995
 * @throws {DomainError} `out-of-range`
 * @see ISO/IEC 14882, [rand.predef] (mt19937); Matsumoto and Nishimura 1998
 * @example generator(5489).next() // 3499211612 ± 0
 */
export function generator(seed: number): MersenneTwister {
  within('seed', seed, 0, 2 ** 32 - 1)
  return new MersenneTwister(seed)
}
