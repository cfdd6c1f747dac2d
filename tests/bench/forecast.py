import sys, csv, math, random, time, statistics
sys.path.insert(0,'daemon'); sys.path.insert(0,'.')
from dryward.science.forecast import forecast, PieceLog
from dryward.science.pace import AirAt
from tests.bench.strangers import Batch, Air, strangers, at, oswin
from bisect import bisect_right

def leaf():
    P={}
    for r in csv.DictReader(open('/work/shared/data/leaf_weighings.csv')):
        P.setdefault(r['sample'],[]).append((float(r['date.and.time']),float(r['fresh.weight'])))
    t0=min(p[0][0] for p in P.values())
    logs={k:[(t-t0,w) for t,w in v] for k,v in P.items()}
    airs=[Air(t_s=float(r['date.and.time'])-t0,air_c=float(r['temperature']),rh_pct=float(r['humidity'])) for r in csv.DictReader(open('/work/shared/data/leaf_room.csv'))]
    airs=[a for a in airs if -900<=a.t_s<=12*3600]
    return [mk('leaf',logs,15.0,airs,True)]

def cross(log,target):
    for (t0,w0),(t1,w1) in zip(log,log[1:]):
        if w1<=target: return t0+(w0-target)/(w0-w1)*(t1-t0)
    return None
def mk(kind,logs,pct,airs,tells):
    fin={k:cross(v,v[0][1]*(1-pct/100)) for k,v in logs.items()}
    return Batch(kind=kind,green_g={k:v[0][1] for k,v in logs.items()},logs=logs,target_pct=pct,finishes=fin,airs=airs,tells_air=tells,tells_rh=tells,tells_plan=False)
def rice():
    P={}
    for r in csv.DictReader(open('tests/data/drying_curves_rice.csv')): P.setdefault(r['condition_id'],[]).append((float(r['t']),float(r['MR'])))
    out=[]
    for pct in (30,50):
        for k,v in P.items():
            dry=70.0;wat=30.0
            log={k:[(t,dry+wat*m) for t,m in v]}
            out.append(mk('rice',log,pct*wat/100,[Air(t_s=0,air_c=float(k[-2:]),rh_pct=20)],False))
    return out
def vac():
    sys.path.insert(0,'/tmp'); from priv import VAC
    out=[]
    for pct in (30,50,70,90):
        for dt,v in VAC:
            log={'a':[(i*dt*60.,20+80*m) for i,m in enumerate(v)]}
            out.append(mk('vac',log,pct*.8,[Air(t_s=0,air_c=60,rh_pct=20)],False))
    return out

def judge(batch, piece, share):
    fin=batch.finishes[piece]
    if fin is None: return None
    start=batch.logs[piece][0][0]
    cut=start+(fin-start)*share
    logs={k:[p for p in v if p[0]<=cut] for k,v in batch.logs.items()}
    if len(logs[piece])<2: return None
    logs={k:v for k,v in logs.items() if len(v)>=2}
    last=logs[piece][-1][0]
    pl=[]
    for k,v in logs.items():
        airs=()
        if batch.tells_air:
            airs=[AirAt(t_s=t,air_c=at(batch.airs,t).air_c,rh_pct=at(batch.airs,t).rh_pct if batch.tells_rh else None) for t,_ in v]
        green=batch.green_g[k]
        pl.append(PieceLog(piece=k,green_g=green,target_g=green*(1-batch.target_pct/100),weighings=v,airs=airs))
    plan=()
    if batch.tells_plan:
        rows=[at(batch.airs,last)]+[a for a in batch.airs if a.t_s>last]
        plan=[AirAt(t_s=max(a.t_s,last),air_c=a.air_c,rh_pct=a.rh_pct if batch.tells_rh else None) for a in rows]
    t=time.perf_counter()
    fc={f.piece:f for f in forecast(pl,plan)}[piece]
    dt=(time.perf_counter()-t)/len(pl)
    v=logs[piece]; tg=batch.green_g[piece]*(1-batch.target_pct/100)
    rem=fin-cut
    def naive(a,b):
        r=(a[1]-b[1])/(b[0]-a[0]) if b[0]>a[0] else 0
        return abs(b[0]+(b[1]-tg)/r-fin)/rem if r>0 else math.inf
    e=abs(fc.finish_s-fin)/rem if fc.finish_s is not None else math.inf
    lo=fc.finish_lo_s if fc.finish_lo_s is not None else math.inf
    hi=fc.finish_hi_s if fc.finish_hi_s is not None else math.inf
    sgn=(fc.finish_s-fin)/rem if fc.finish_s is not None else 9
    return dict(e=e,last=naive(v[-2],v[-1]),mean=naive(v[0],v[-1]),cov=lo<=fin<=hi,width=(hi-lo)/rem,low=fin<lo,high=fin>hi,inf=math.isinf(hi),sgn=sgn,dt=dt,kind=batch.kind,share=share)
def table(rows):
    kinds=list(dict.fromkeys(r['kind'] for r in rows))
    print(f"{'set':10s} at   n   ours  last  mean  ratio  cover  below above  hi-inf width bias  ms")
    for k in kinds:
        for s in (.25,.5,.75):
            R=[r for r in rows if r['kind']==k and r['share']==s]
            if not R: continue
            md=lambda key: statistics.median(r[key] for r in R)
            b=min(md('last'),md('mean'))
            print(f"{k:10s} {s:.2f} {len(R):4d} {md('e'):.3f} {md('last'):.3f} {md('mean'):.3f} {md('e')/b if b else 0:5.2f}  {sum(r['cov'] for r in R)/len(R):.2f}   {sum(r['low'] for r in R)/len(R):.2f} {sum(r['high'] for r in R)/len(R):.2f}  {sum(r['inf'] for r in R)/len(R):.2f}  {md('width'):5.2f} {md('sgn'):+.2f} {1000*md('dt'):.0f}")
if __name__=='__main__':
    what=sys.argv[1]; n=int(sys.argv[2]) if len(sys.argv)>2 else 60
    sets={'leaf':leaf,'rice':rice,'vac':vac,'str':lambda: strangers(n,int(sys.argv[3]) if len(sys.argv)>3 else 1)}
    rows=[]
    rnd=random.Random(0)
    for w in what.split(','):
        for b in sets[w]():
            for s in (.25,.5,.75):
                for p in ([rnd.choice(list(b.logs))] if w=='str' else list(b.logs)):
                    r=judge(b,p,s)
                    if r: rows.append(r)
    table(rows)
    for r in rows: r['kind']='all '+r['kind'][:0]
    if 'str' in what: table(rows)
