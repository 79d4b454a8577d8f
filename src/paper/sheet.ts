/**
 * The content of a printed sheet before layout: texts, tables and drawings, their order, and which of them go side by side.
 * HTML and PDF are both rendered from it, so they agree.
 */
export interface Sheet {
  readonly title: string
  readonly subtitle: string
  /** Footer of each page. */
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
  /** Takes the remaining width. */
  readonly wide?: boolean
}

export interface Link {
  readonly name: string
  /** Kind, setting and ratio. */
  readonly lines: readonly string[]
  /** Turns or pulses per distance at its output, or those that the head needs. */
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
      /** Height of a row that is filled in by hand. */
      readonly rowMm?: 5 | 7
    }
  | { readonly kind: 'chain'; readonly caption: string; readonly links: readonly Link[] }
  | { readonly kind: 'drawing'; readonly svg: string }
  | { readonly kind: 'blanks'; readonly names: readonly string[] }
  /** Blocks side by side; the left column takes `leftPercent` of the width; `whole` keeps them on one page. */
  | {
      readonly kind: 'beside'
      readonly left: readonly Block[]
      readonly right: readonly Block[]
      readonly leftPercent: number
      readonly whole: boolean
    }
