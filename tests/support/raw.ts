import { connect, type Socket } from 'node:net'
import type { TestApp } from './app.js'
import type { AnswerLike } from './problem.js'

/** Listens on a free port of the loopback. */
export async function portOf(app: TestApp): Promise<number> {
  await app.listen({ host: '127.0.0.1', port: 0 })
  return (app.server.address() as { port: number }).port
}

/** A bare connection to the service, and all that comes back on it. */
export class Connection {
  readonly socket: Socket
  received = ''
  /** Resolves when the service has closed its side. */
  readonly ended: Promise<void>

  constructor(port: number) {
    this.socket = connect({ host: '127.0.0.1', port, allowHalfOpen: true })
    this.socket.on('data', (chunk: Buffer) => {
      this.received += chunk.toString('latin1')
    })
    this.ended = new Promise((resolve) => {
      this.socket.on('end', resolve)
      this.socket.on('error', () => resolve())
      this.socket.on('close', () => resolve())
    })
  }

  write(text: string): void {
    this.socket.write(text)
  }

  /** Waits until what came holds a text. */
  async until(text: string): Promise<void> {
    while (!this.received.includes(text)) {
      await new Promise((resolve) => this.socket.once('data', resolve))
    }
  }

  /** The first answer that came. */
  answer(): AnswerLike {
    const [head = '', ...rest] = this.received.split('\r\n\r\n')
    const [status = '', ...lines] = head.split('\r\n')
    const headers = Object.fromEntries(
      lines.map((line) => {
        const [name = '', ...value] = line.split(': ')
        return [name.toLowerCase(), value.join(': ')]
      }),
    )
    const length = Number(headers['content-length'] ?? 0)
    return { statusCode: Number(status.split(' ')[1]), headers, body: rest.join('\r\n\r\n').slice(0, length) }
  }

  close(): void {
    this.socket.destroy()
  }
}

/** Sends a text, waits for the service to hang up, and gives what it answered. */
export async function exchange(port: number, text: string): Promise<Connection> {
  const connection = new Connection(port)
  connection.write(text)
  await connection.ended
  connection.close()
  return connection
}
