/**
 * Draws of what a request leaves unsure, by what the documents of the service say of each input and by nothing of its code: a `plusMinus` is two
 * standard uncertainties of a normal distribution, a tolerance of a standard is even between its ends.
 */

/** Numbers even between 0 and 1: a linear congruential generator of 2^32 steps, scrambled (O'Neill 2014, PCG-XSH-RR, from memory). */
export class Draws {
  private state: bigint

  constructor(seed: number) {
    this.state = BigInt(seed) * 2n + 1n
    for (let k = 0; k < 4; k++) this.step()
    this.words = new Uint32Array(4)
    for (let k = 0; k < 4; k++) this.words[k] = this.step()
  }

  private readonly words: Uint32Array

  private step(): number {
    const old = this.state
    this.state = (old * 6364136223846793005n + 1442695040888963407n) & 0xffffffffffffffffn
    const mixed = Number((((old >> 18n) ^ old) >> 27n) & 0xffffffffn)
    const turn = Number(old >> 59n)
    return ((mixed >>> turn) | (mixed << (-turn & 31))) >>> 0
  }

  /** Even between 0 and 1: xoshiro128++ (Blackman and Vigna 2019, from memory), set off by the generator above. */
  even(): number {
    const s = this.words
    const turned = (x: number, k: number) => (x << k) | (x >>> (32 - k))
    const result = (turned((s[0]! + s[3]!) | 0, 7) + s[0]!) >>> 0
    const t = s[1]! << 9
    s[2]! ^= s[0]!
    s[3]! ^= s[1]!
    s[1]! ^= s[2]!
    s[0]! ^= s[3]!
    s[2]! ^= t
    s[3] = turned(s[3]!, 11)
    return (result + 0.5) / 2 ** 32
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.even()
  }

  oneOf<T>(list: readonly T[]): T {
    return list[Math.floor(this.even() * list.length)]!
  }

  private spare: number | undefined

  /** Standard normal, by the polar method of Marsaglia. */
  normal(): number {
    if (this.spare !== undefined) {
      const { spare } = this
      this.spare = undefined
      return spare
    }
    for (;;) {
      const x = this.between(-1, 1)
      const y = this.between(-1, 1)
      const square = x * x + y * y
      if (square >= 1 || square === 0) continue
      const factor = Math.sqrt((-2 * Math.log(square)) / square)
      this.spare = y * factor
      return x * factor
    }
  }

  /** Normal about a value, by its `plusMinus`. */
  about(value: number, plusMinus = 0): number {
    return plusMinus === 0 ? value : value + (plusMinus / 2) * this.normal()
  }
}
