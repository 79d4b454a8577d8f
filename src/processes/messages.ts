/** What processes of one service send each other through the supervisor. */
export type PeerMessage =
  /** To every other process. */
  | { readonly peer: 'tell'; readonly topic: string; readonly data: unknown }
  /** To every other process, by which the supervisor tells who asks. */
  | { readonly peer: 'ask'; readonly topic: string; readonly id: number; readonly from?: number }
  /** From the supervisor to the process that asks: how many answers to expect. */
  | { readonly peer: 'asked'; readonly id: number; readonly count: number }
  | { readonly peer: 'answer'; readonly id: number; readonly to: number; readonly data: unknown }

export const isPeerMessage = (message: unknown): message is PeerMessage =>
  typeof message === 'object' && message !== null && 'peer' in message

/** From the supervisor to a process: stop gracefully. */
export const STOP = 'stop'

/** From a process to the supervisor: it has noticed that it is to stop. */
export const STOPPING = 'stopping'
