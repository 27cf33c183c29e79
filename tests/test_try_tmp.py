import time, traceback
from datetime import datetime, UTC, timedelta
import pytest
NOW = datetime(2026,6,12,18,0,tzinfo=UTC)
HOT=[(35.0,15.0,8.0)]*174
DAMP=[(15.0,92.0,1.0)]*174
N="2026-06-12T13:00"
def test_x(yard, quick, run, weather_service, mailbox, phone):
    def t(*a, f=quick):
        t0=time.time()
        try: r=f(*a)
        except BaseException as e:
            print("##!!",a, type(e), str(e)[-1500:].replace("\n"," | ")[:300]); 
            print("   ", traceback.extract_tb(e.__traceback__)[-1])
            return
        print("##",a, round(time.time()-t0,2), r.code, "OUT:",r.stdout[:300], "ERR:",r.stderr[:600]); return r
    weather_service.issue(NOW,HOT)
    add=["stack","add"]; R=["--species","red oak","--thickness","4/4","--site","shed","--stacked",N]
    t(*add,"R7",*R)
    t(*add,"F1",*R[:-1],"2026-07-01")
    t("stack","show","F1","--now",N)
    t("stack","show","F1","--now",N,"--json")
    t("stack","list","--now",N)
    for s in ["0 in","-1 in","1000 ft"]:
        t(*add,"S0",*R,"--sticker",s); t("watch","--once","--dry-run","--now",N); 
        if yard.sql("select 1 from stack where id='S0'"): yard.sql("delete from stack where id='S0'")
    for s in ["0 ft","-1 ft"]:
        t(*add,"S0",*R,"--pack-width",s); t("watch","--once","--dry-run","--now",N); 
        if yard.sql("select 1 from stack where id='S0'"): yard.sql("delete from stack where id='S0'")
    t("stack","event","R7","restickered","0 in","--at",N);t("watch","--once","--dry-run","--now",N)
    yard.sql("delete from event")
    for s in ["0001-01-01T00:00","9999-12-31T23:59","1026-06-12","1986-06-12","2026-13-01","2026-06-12T25:00",""]:
        t(*add,"S0",*R[:-1],s); 
        if s!="1986-06-12": t("watch","--once","--dry-run","--now",N); 
        if yard.sql("select 1 from stack where id='S0'"): yard.sql("delete from stack where id='S0'")
    bad=yard.folder/"b.csv"
    for text in [b"id,species,thickness,site\nA1,red oak,4/4,shed,,,extra,more\n", b"id,species,thickness,site\nA1,red \xff oak,4/4,shed\n", b"", b"id,species\n", b"id,species,thickness,site\nA1,red oak,4/4,shed\nA1,red oak,4/4,shed\n", b"id,species,thickness,site\nA\x00,red oak,4/4,shed\n", b"id,species,thickness,site\nA1\n", b'id,species,thickness,site\n"A1\n', b"id,species,thickness,site\nA9,"+b"x"*200000+b",4/4,shed\n"]:
        bad.write_bytes(text); t("stack","import",bad)
    t("stack","import",yard.folder)
    t("stack","import",yard.folder/"none")
    t("init","--config",bad/"x"/"c.toml")
    t("init","--config",yard.folder)
    t("init","--config",bad)
    t("init"); t("init")
    t("check","--config",yard.folder/".config/drywind/config.toml")
    for x in [["emc","--temp","70F","--rh","0.65"],["emc","--temp","70","--rh","65"],["emc","--temp","70F","--rh","nan"],["emc","--temp","-500F","--rh","65"],["emc","--temp","1000000F","--rh","65"],["emc","--temp","999999999C","--rh","65"],["emc","--rh","65"],["emc","--temp","70F","--rh","0"],
       ["stack","add","R7"],["stack","add","a b",*R],["stack","show","R8"],["stack","event","R7","covered"],["stack","event","R7","covered","tarp"],["stack","event","R7","moved","loft"],["stack","event","R7","ended"],["stack","event","R7","stacked"],["stack","event","R7","stacked","x"],["stack","event","R7","weighed","300"],["stack","event","R7","covered","burlap","--at","2026-06-01"],["stack","event","R7","covered","burlap","--at","soon"],
       ["stack","weigh","R7","--weight","1 g","--oven-dry","0 g"],["stack","weigh","R7","--weight","1 g","--oven-dry","1"],["watch","--json"],["watch","--once","--now","x"],["nothing"],["species","unobtainium"],["send-test","Bob"],["check","--config","/nonexistent"],["--config","/nonexistent","check"],["stack","list","--now","x"],["-h"],["--version"],["stack","event","R7","restickered",""],["stack","end","R7","--at","2027-01-01"],["stack","list","--now",N], ["stack","end","R7"],["stack","event","R7","covered","burlap"]]:
        t(*x)
    assert 0
