/**
 * A printed sheet before it is laid out: what it says, in which order, and what stands beside what. HTML and PDF are made
 * from the same one, so they say the same.
 */
export interface Sheet {
  readonly title: string
  readonly subtitle: string
  /** Stands at the foot of each page. */
  readonly foot: string
  /** Day on which it was made (RFC 3339). */
  readonly date: string
  readonly sections: readonly Section[]
}

export interface Section {
  readonly heading: string
  readonly blocks: readonly Block[]
}

export interface Fact {
  readonly name: string
  readonly value: string
}

export interface Column {
  readonly head: string
  readonly align: 'left' | 'right'
  /** Takes what width is left. */
  readonly wide?: boolean
}

export interface Link {
  readonly name: string
  /** What it is and how it is set. */
  readonly lines: readonly string[]
  /** Turns or pulses that leave it, or that the head wants. */
  readonly flow: readonly string[]
}

export type Block =
  | { readonly kind: 'facts'; readonly facts: readonly Fact[] }
  | { readonly kind: 'text'; readonly text: string }
  | { readonly kind: 'list'; readonly items: readonly string[]; readonly small: boolean }
  | {
      readonly kind: 'table'
      readonly caption: string
      readonly columns: readonly Column[]
      readonly rows: ReadonlyArray<readonly string[]>
      /** Height of a row that is written in by hand. */
      readonly rowMm?: 5 | 7
    }
  | { readonly kind: 'chain'; readonly caption: string; readonly links: readonly Link[] }
  | { readonly kind: 'drawing'; readonly svg: string }
  | { readonly kind: 'blanks'; readonly names: readonly string[] }
  /** Blocks beside each other; `leftPercent` of the width is the left one's; `whole` ones stay on one page. */
  | {
      readonly kind: 'beside'
      readonly left: readonly Block[]
      readonly right: readonly Block[]
      readonly leftPercent: number
      readonly whole: boolean
    }
