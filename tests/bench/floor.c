/* floor.c: the least that a program can do with a key, for the desk to be measured against.
 *
 * floor echo     a byte read is a byte written: what the terminal and the machine take
 * floor counter  a bare ncurses program: counts the key, refreshes
 * floor panel    the same with all 24 rows put anew for each key
 *
 * Each ends at Escape.
 */
#include <curses.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

static int echo_bytes(void)
{
    struct termios mode = {0};
    char byte = 0;

    if (tcgetattr(STDIN_FILENO, &mode) != 0) {
        return 1;
    }
    mode.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG);
    mode.c_oflag &= ~(tcflag_t)OPOST;
    if (tcsetattr(STDIN_FILENO, TCSANOW, &mode) != 0 || write(STDOUT_FILENO, "ready\r\n", 7) != 7) {
        return 1;
    }
    while (read(STDIN_FILENO, &byte, 1) == 1 && byte != '\033') {
        if (write(STDOUT_FILENO, &byte, 1) != 1) {
            return 1;
        }
    }
    return 0;
}

static int count_keys(int rows)
{
    long keys = 0;

    if (initscr() == NULL) {
        return 1;
    }
    raw();
    noecho();
    curs_set(0);
    do {
        mvprintw(0, 0, "ready, keys: %ld", keys++);
        for (int i = 1; i < rows; i++) {
            mvprintw(i, 0, "row %2d of a panel with so many keys: %6ld of %6ld", i, keys, keys * i);
        }
        refresh();
    } while (getch() != '\033');
    endwin();
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "echo") == 0) {
        return echo_bytes();
    }
    if (argc == 2 && strcmp(argv[1], "counter") == 0) {
        return count_keys(1);
    }
    if (argc == 2 && strcmp(argv[1], "panel") == 0) {
        return count_keys(24);
    }
    fputs("usage: floor echo|counter|panel\n", stderr);
    return 2;
}
