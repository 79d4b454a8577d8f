import { restoreDatabase } from '../db/sqlite/backup.js'
import { type Command, wordOf } from './command.js'
import { printReport } from './file-report.js'
import { settingsOf } from './settings.js'

export const restore: Command = {
  summary: 'replaces the database by a backup; the service must be stopped',
  usage: (call) => `Verifies a backup, sets the database in DATABASE_FILE aside and puts the
backup in its place. Stop the service first.

  ${call('FILE')}`,
  async run(args, surroundings) {
    const file = wordOf('FILE', args)
    const setAside = `before-restore-${new Date(surroundings.clock()).toISOString().replaceAll(/[:.]/g, '-')}`
    const { databaseFile } = settingsOf(surroundings)
    const report = restoreDatabase(file, databaseFile, setAside)
    const done = [
      `${file} restored to ${databaseFile}`,
      report.setAside === undefined ? 'nothing was there before' : `what was there is in ${report.setAside}`,
    ]
    if (!report.sameAsMade) {
      done.push(
        `no ${file}.sha256 is there to prove that no letter of it was changed, only that it holds together`,
      )
    }
    printReport(surroundings, done.join('; '), report)
    return 0
  },
}
