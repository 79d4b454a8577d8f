/** A remark that goes with an answer. `caution` marks what can hurt, cost a fine or spoil the figure. */
export interface Note {
  readonly code: string
  readonly level: 'info' | 'caution'
  readonly text: string
}
