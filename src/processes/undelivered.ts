import type { Worker } from 'node:cluster'

/** How long after the end of a process its last answers are read. */
const LAST_ANSWERS_MS = 200

/** A connection on its way to a process. */
interface Handle {
  close(): void
}

/** What Node's cluster module sends a process with a connection, and what it answers. */
interface Message {
  readonly act?: string
  readonly seq?: number
  readonly ack?: number
}

/**
 * Closes the connection that a process was being given when it died. Node forgets it and leaves it open: its client would wait for ever
 * (found 2026-11 on Node 20). Node offers no public view of these messages; if another version names them otherwise, nothing is closed.
 */
export function closeUndelivered({ process: child }: Worker): void {
  const undelivered = new Map<number, Handle>()
  const send = child.send.bind(child) as (...args: unknown[]) => boolean
  child.send = (...args: unknown[]) => {
    const [message, handle] = args as [Message, Handle | undefined]
    if (message.act === 'newconn' && handle !== undefined) undelivered.set(message.seq!, handle)
    return send(...args)
  }
  child.on('internalMessage', ({ ack }: Message) => {
    if (ack !== undefined) undelivered.delete(ack)
  })
  // After its exit, since answers may still be in the channel; the channel itself may never close while it holds a connection.
  child.once('exit', () => {
    setTimeout(() => {
      for (const handle of undelivered.values()) handle.close()
    }, LAST_ANSWERS_MS)
  })
}
