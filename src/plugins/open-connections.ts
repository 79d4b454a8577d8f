import type { Socket } from 'node:net'
import type { Answer } from './answer.js'
import { Connection } from './connection.js'
import type { CorsHeaders } from './cors.js'

/** The open connections by their sockets. */
export class OpenConnections {
  private readonly bySocket = new Map<Socket, Connection>()
  /** Connections with the maximum number of pipelined requests. */
  private readonly full = new Set<Connection>()
  private readonly corsHeaders: CorsHeaders

  constructor(corsHeaders: CorsHeaders) {
    this.corsHeaders = corsHeaders
  }

  add(socket: Socket): void {
    this.bySocket.set(socket, new Connection(socket, this.full))
    socket.once('close', () => this.bySocket.delete(socket))
  }

  of(socket: Socket): Connection | undefined {
    return this.bySocket.get(socket)
  }

  sockets(): Iterable<Socket> {
    return this.bySocket.keys()
  }

  /** CORS headers of a response that is written directly to the socket, for the origin of the last request. */
  readonly corsHeadersOn = (socket: Socket): Record<string, string> =>
    this.corsHeaders(this.of(socket)?.origin)

  /** The outstanding response to a complete request of a connection, or the response that the connection ends with. */
  readonly owedOn = (socket: Socket): Answer | undefined => {
    const { last, isDone = false } = this.of(socket) ?? {}
    const owed = last?.req.complete === true && !last.writableFinished
    return owed || isDone ? last : undefined
  }
}
