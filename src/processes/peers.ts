import { isPeerMessage, type PeerMessage } from './messages.js'

/** How long the answers of other processes are waited for: one of them may be about to end. */
const ANSWER_TIMEOUT_MS = 1000

/** The other processes of the service. */
export interface Peers {
  /** Sends to every other process. */
  tell(topic: string, data: unknown): void
  /** Calls back with what others tell. */
  hear(topic: string, act: (data: unknown) => void): void
  /** Asks every other process. @returns The answers that came in time */
  ask(topic: string): Promise<readonly unknown[]>
  /** Makes the answer when another process asks. */
  answer(topic: string, make: () => Promise<unknown>): void
}

/** Of a service that is one process. */
export const NO_PEERS: Peers = {
  tell() {},
  hear() {},
  ask: async () => [],
  answer() {},
}

interface Question {
  readonly answers: unknown[]
  expected: number
  readonly resolve: (answers: readonly unknown[]) => void
}

/** The other processes as this one reaches them: through its channel to the supervisor. */
export class ProcessPeers implements Peers {
  private readonly hearers = new Map<string, (data: unknown) => void>()
  private readonly makers = new Map<string, () => Promise<unknown>>()
  private readonly questions = new Map<number, Question>()
  private asked = 0

  constructor() {
    process.on('message', (message) => {
      if (isPeerMessage(message)) this.take(message)
    })
  }

  tell(topic: string, data: unknown): void {
    this.send({ peer: 'tell', topic, data })
  }

  hear(topic: string, act: (data: unknown) => void): void {
    this.hearers.set(topic, act)
  }

  ask(topic: string): Promise<readonly unknown[]> {
    const id = ++this.asked
    return new Promise((resolve) => {
      const answers: unknown[] = []
      const timer = setTimeout(() => this.settle(id), ANSWER_TIMEOUT_MS)
      this.questions.set(id, {
        answers,
        expected: Number.POSITIVE_INFINITY,
        resolve: (given) => {
          clearTimeout(timer)
          resolve(given)
        },
      })
      this.send({ peer: 'ask', topic, id })
    })
  }

  answer(topic: string, make: () => Promise<unknown>): void {
    this.makers.set(topic, make)
  }

  private take(message: PeerMessage): void {
    if (message.peer === 'tell') this.hearers.get(message.topic)?.(message.data)
    else if (message.peer === 'ask') this.reply(message.topic, message.id, message.from!)
    else {
      const question = this.questions.get(message.id)
      if (question === undefined) return
      if (message.peer === 'asked') question.expected = message.count
      else question.answers.push(message.data)
      if (question.answers.length >= question.expected) this.settle(message.id)
    }
  }

  private reply(topic: string, id: number, to: number): void {
    // A process that cannot answer is left out, like one that has died.
    this.makers
      .get(topic)?.()
      .then(
        (data) => this.send({ peer: 'answer', id, to, data }),
        () => undefined,
      )
  }

  private settle(id: number): void {
    const question = this.questions.get(id)
    this.questions.delete(id)
    question?.resolve(question.answers)
  }

  private send(message: PeerMessage): void {
    // Without the supervisor this process is about to stop: nobody is there to be told.
    if (process.connected) process.send!(message, undefined, undefined, () => undefined)
  }
}
