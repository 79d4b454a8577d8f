import { startService } from '../server.js'
import { type Command, words } from './command.js'
import { settingsOf } from './settings.js'

export const serve: Command = {
  summary: 'runs the service',
  usage: (call) => `Runs the service until SIGTERM, SIGINT or SIGHUP.
Settings are environment variables: docs/settings.md.

  ${call()}`,
  async run(args, surroundings) {
    words(args, 0)
    await startService(settingsOf(surroundings), surroundings.callOf)
    return undefined
  },
}
