import type { Server } from 'node:http'
import { Server as NetServer } from 'node:net'
import { setImmediate as nextIteration, setTimeout as wait } from 'node:timers/promises'
import type { Answer } from './answer.js'
import type { OpenAnswers } from './open-answers.js'
import type { OpenConnections } from './open-connections.js'

/** Longest time for which idle connections stay open while closing. */
const LINGER_MS = 1_000

/** Closes connections gracefully: each after its outstanding responses. */
export class Draining {
  /** Whether the application is closing: each response is the last of its connection. */
  isClosing = false
  /** Whether each connection is ended after its outstanding responses. */
  private isEnding = false
  private readonly connections: OpenConnections
  private readonly answers: OpenAnswers

  constructor(connections: OpenConnections, answers: OpenAnswers) {
    this.connections = connections
    this.answers = answers
  }

  /**
   * Stops accepting connections and ends the open ones after their outstanding responses; idle ones after LINGER_MS, so that a
   * request already on its way is not lost.
   */
  async endConnections(server: Server): Promise<void> {
    this.isEnding = true
    // Accept the connections in the backlog first: closing the listening socket resets them.
    await nextIteration()
    const ended = new Promise((resolve) => server.once('close', resolve))
    // close() of net.Server: that of http.Server also destroys idle connections.
    NetServer.prototype.close.call(server)
    await Promise.race([ended, wait(LINGER_MS)])
  }

  /** Makes each response the last of its connection, and closes the connections without an outstanding or waiting response. */
  close(waiting: Iterable<Answer>): void {
    this.isClosing = true
    const owing = new Set([...waiting].map(({ req }) => req.socket))
    for (const answer of this.answers) {
      owing.add(answer.req.socket)
      if (!answer.headersSent) answer.setHeader('connection', 'close')
    }
    // Including connections without any request: the server counts them as busy and would wait for their timeout.
    for (const socket of this.connections.sockets()) if (!owing.has(socket)) socket.destroy()
  }

  /** Makes a response that is about to start the last of its connection while the application is closing. */
  endAfter(answer: Answer): void {
    if (this.isClosing) answer.setHeader('connection', 'close')
  }

  /** Calls back at once, or once it is known which response is the last of its connection: that one ends the connection. */
  whenLastIsKnown(answer: Answer, act: () => void): void {
    if (!this.isEnding || this.isClosing) {
      act()
      return
    }
    // In the next iteration all requests of the same chunk are known: only the last one gets `connection: close`.
    setImmediate(() => {
      if (this.connections.of(answer.req.socket)?.last === answer) answer.setHeader('connection', 'close')
      act()
    })
  }
}
